package client_test

import (
	"crypto/tls"
	"net"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
)

func serve(t *testing.T, listener net.Listener) {
	t.Helper()
	server := grpc.NewServer()
	(&clienttest.Server{}).Register(server)
	done := make(chan error, 1)
	go func() { done <- server.Serve(listener) }()
	t.Cleanup(func() {
		server.Stop()
		require.NoError(t, <-done)
	})
}

func effects(t *testing.T, address string) (client.Effects, error) {
	t.Helper()
	c, err := client.Dial(address)
	require.NoError(t, err)
	defer c.Close()
	return c.Effects(t.Context(), clienttest.RuleSets)
}

func TestDialReachesASocketAndALoopbackPort(t *testing.T) {
	socket := filepath.Join(t.TempDir(), "s")
	for address, listen := range map[string][2]string{
		"unix:" + socket: {"unix", socket},
		"":               {"tcp", "127.0.0.1:0"},
	} {
		listener, err := net.Listen(listen[0], listen[1])
		require.NoError(t, err)
		if address == "" {
			address = listener.Addr().String()
		}
		serve(t, listener)
		got, err := effects(t, address)
		require.NoError(t, err, address)
		assert.Len(t, got, len(clienttest.Effects()), address)
	}
}

func TestAnAddressThatIsNoneIsRefused(t *testing.T) {
	for _, address := range []string{"", "unix:", "localhost", "/tmp/socket"} {
		_, err := client.Dial(address)
		assert.ErrorContains(t, err, "server address", address)
	}
}

// Any address that is not loopback is spoken to with TLS alone, so a plain server
// there is not sent the inventory.
func TestAForeignAddressIsNeverPlain(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer listener.Close()
	hello := make(chan bool, 1)
	go func() {
		conn, err := listener.Accept()
		if err != nil {
			hello <- false
			return
		}
		defer conn.Close()
		err = tls.Server(conn, &tls.Config{GetConfigForClient: func(*tls.ClientHelloInfo) (*tls.Config, error) {
			hello <- true
			return nil, assert.AnError
		}}).Handshake()
		assert.Error(t, err)
	}()
	_, port, err := net.SplitHostPort(listener.Addr().String())
	require.NoError(t, err)
	// A loopback address in a form that is not recognised as one.
	_, err = effects(t, "0.0.0.0:"+port)
	assert.Equal(t, codes.Unavailable, status.Code(err))
	assert.True(t, <-hello, "the client did not begin with TLS")
}

func TestASetThatChangedIsNotExplainedByItsSuccessor(t *testing.T) {
	c := clienttest.Connect(t, (&clienttest.Server{}).Register)
	changed := proto.CloneOf(clienttest.RuleSets[0])
	changed.Digest = "another"
	gone := proto.CloneOf(clienttest.RuleSets[1])
	gone.RuleSetId = "gone"
	got, err := c.Effects(t.Context(), []*commonv1.RuleSetRef{changed, gone})
	require.NoError(t, err)
	assert.Empty(t, got)
}
