package command_test

import (
	"net"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
)

// serveCampaigns listens until the test ends, on a port of its own.
func serveCampaigns(t *testing.T, k campaignv1.CampaignServiceServer) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	server := grpc.NewServer()
	campaignv1.RegisterCampaignServiceServer(server, k)
	done := make(chan error, 1)
	go func() { done <- server.Serve(listener) }()
	t.Cleanup(func() {
		server.Stop()
		require.NoError(t, <-done)
	})
	return listener.Addr().String()
}
