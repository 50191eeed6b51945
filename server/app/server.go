package app

import (
	"context"
	"runtime/debug"
	"time"

	"github.com/grpc-ecosystem/go-grpc-middleware/v2/interceptors/recovery"
	"github.com/rs/zerolog"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/health"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/status"

	"example.org/rootward/server/api"
)

const (
	// maxReceive is the largest message that is read: a chunk of 16,384 rows with
	// every column has about 6 MB.
	maxReceive = 16 << 20
	// maxCalls is how many calls one connection may have at a time.
	maxCalls = 100
	// idlePing finds connections whose other end is gone without a word.
	idlePing = 2 * time.Minute
	// leastPing is how often a client may ping.
	leastPing = 10 * time.Second
)

// newServer wires the services. Health says SERVING from the start: the rule sets
// are loaded before.
func newServer(log zerolog.Logger, creds credentials.TransportCredentials, services api.Services) (*grpc.Server, *health.Server) {
	recovered := recovery.WithRecoveryHandlerContext(func(_ context.Context, panicked any) error {
		log.Error().Interface("panic", panicked).Bytes("stack", debug.Stack()).Msg("a call panicked")
		return api.Internal()
	})
	calls := callLog{log}
	options := append(api.Options(),
		grpc.MaxRecvMsgSize(maxReceive),
		grpc.MaxConcurrentStreams(maxCalls),
		grpc.KeepaliveParams(keepalive.ServerParameters{Time: idlePing}),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: leastPing, PermitWithoutStream: true}),
		grpc.ChainUnaryInterceptor(calls.unary, recovery.UnaryServerInterceptor(recovered)),
		grpc.ChainStreamInterceptor(calls.stream, recovery.StreamServerInterceptor(recovered)),
		grpc.UnknownServiceHandler(func(_ any, stream grpc.ServerStream) error {
			method, _ := grpc.MethodFromServerStream(stream)
			return api.Unimplemented(method)
		}),
	)
	if creds != nil {
		options = append(options, grpc.Creds(creds))
	}
	server, state := grpc.NewServer(options...), health.NewServer()
	api.Register(server, services)
	healthv1.RegisterHealthServer(server, state)
	reflection.Register(server)
	for name := range server.GetServiceInfo() {
		state.SetServingStatus(name, healthv1.HealthCheckResponse_SERVING)
	}
	return server, state
}

// callLog logs each call once it has ended, without anything that was in it, and
// gives every error its details.
type callLog struct{ log zerolog.Logger }

func (c callLog) unary(ctx context.Context, q any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
	began := time.Now()
	answer, err := handler(ctx, q)
	return answer, c.ended(info.FullMethod, began, err)
}

func (c callLog) stream(service any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
	began := time.Now()
	return c.ended(info.FullMethod, began, handler(service, stream))
}

func (c callLog) ended(method string, began time.Time, err error) error {
	err = api.Status(err)
	code := status.Code(err)
	entry := c.log.WithLevel(levelOf(code)).Str("method", method).Stringer("code", code).Dur("ms", time.Since(began))
	if levelOf(code) == zerolog.ErrorLevel {
		entry = entry.Err(err) // of a caller's errors the words may hold what was in the call
	}
	entry.Msg("call")
	return err
}

// levelOf tells faults of the server from those of a caller.
func levelOf(code codes.Code) zerolog.Level {
	if code == codes.Internal || code == codes.Unknown || code == codes.DataLoss {
		return zerolog.ErrorLevel
	}
	return zerolog.InfoLevel
}
