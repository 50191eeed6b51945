package app_test

import (
	"bytes"
	"context"
	"net"
	"sync"
	"testing"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/server/app"
	"example.org/rootward/server/catalogue"
)

// panicking serves a law that panics with a secret. The log may be read once the
// server has stopped.
func panicking(t *testing.T) (conn *grpc.ClientConn, stopped func() string) {
	t.Helper()
	known, err := catalogue.Default()
	require.NoError(t, err)
	var log bytes.Buffer
	server, _ := app.NewServer(zerolog.New(&log), nil, api.Services{Catalogue: known, Current: func() api.Law { panic("the secret") }})
	listener := bufconn.Listen(1 << 16)
	var serving sync.WaitGroup
	serving.Go(func() { _ = server.Serve(listener) }) // ends with Stop
	conn, err = grpc.NewClient("passthrough:memory", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }))
	require.NoError(t, err)
	stop := sync.OnceFunc(func() {
		_ = conn.Close()
		server.Stop()
		serving.Wait()
	})
	t.Cleanup(stop)
	return conn, func() string { stop(); return log.String() }
}

func infoOf(t *testing.T, err error) *errdetails.ErrorInfo {
	t.Helper()
	for _, d := range status.Convert(err).Details() {
		if info, ok := d.(*errdetails.ErrorInfo); ok {
			return info
		}
	}
	require.Fail(t, "no ErrorInfo", "%v", err)
	return nil
}

func TestAPanicStaysInTheServer(t *testing.T) {
	conn, stopped := panicking(t)
	_, unary := rulesetv1.NewRuleSetServiceClient(conn).ListRuleSets(t.Context(), &rulesetv1.ListRuleSetsRequest{})
	stream, err := treatmentv1.NewTreatmentServiceClient(conn).PrescribeStream(t.Context())
	require.NoError(t, err)
	one := prescribeOne()
	require.NoError(t, stream.Send(&treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Begin{
		Begin: &treatmentv1.StreamBegin{Date: one.Date, Sites: []*treatmentv1.Site{one.Site}},
	}}))
	_, streamed := stream.Recv()
	for _, err := range []error{unary, streamed} {
		assert.Equal(t, codes.Internal, status.Code(err))
		assert.Equal(t, "INTERNAL", infoOf(t, err).Reason)
		assert.NotContains(t, err.Error(), "secret")
		assert.NotContains(t, err.Error(), "goroutine")
	}
	log := stopped()
	assert.Contains(t, log, "the secret")
	assert.Contains(t, log, "goroutine")
}

func TestUnknownMethodsAreRefusedWithDetails(t *testing.T) {
	conn, _ := panicking(t)
	for _, method := range []string{"/rootward.treatment.v1.TreatmentService/Guess", "/no.such.Service/Method"} {
		err := conn.Invoke(t.Context(), method, &treatmentv1.ListCatalogueRequest{}, &treatmentv1.ListCatalogueResponse{})
		assert.Equal(t, codes.Unimplemented, status.Code(err))
		info := infoOf(t, err)
		assert.Equal(t, "UNKNOWN_METHOD", info.Reason)
		assert.Equal(t, method, info.Metadata["method"])
	}
}

func TestWhatServicesRefuseKeepsItsDetails(t *testing.T) {
	conn, stopped := panicking(t)
	_, err := rulesetv1.NewRuleSetServiceClient(conn).GetRuleSet(t.Context(), &rulesetv1.GetRuleSetRequest{})
	assert.Equal(t, codes.InvalidArgument, status.Code(err))
	assert.Equal(t, "INVALID_REQUEST", infoOf(t, err).Reason)
	assert.Contains(t, stopped(), `"code":"InvalidArgument"`)
}
