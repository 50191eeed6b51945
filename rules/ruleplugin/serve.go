package ruleplugin

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"errors"
	"fmt"
	"net"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/health"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/types/known/emptypb"
)

// Serve serves a rule set on the plugin's side as docs/plugin-contract.md says, and returns
// once the host has asked the plugin to end. It takes over the process's standard output:
// what is written there goes to the host, which shows that it was.
//
// It is not go-plugin's, which makes a program half as large again as this, every byte
// of which the host hashes before it starts it.
func Serve(server pluginv1.RulePluginServiceServer) error {
	signal.Ignore(os.Interrupt) // at a terminal it is for the host, which then ends the plugin
	roomForATable()
	options, certificate, err := mutual(os.Getenv(ClientCertificate))
	if err != nil {
		return err
	}
	listener, tidy, err := listen(os.Getenv(SocketFolder))
	if err != nil {
		return err
	}
	defer tidy()
	read, write, err := os.Pipe()
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	s := grpc.NewServer(options...)
	pluginv1.RegisterRulePluginServiceServer(s, server)
	healthv1.RegisterHealthServer(s, healthy())
	s.RegisterService(&controller, s)
	s.RegisterService(&stdio, read)
	handshake := os.Stdout
	os.Stdout = write
	if _, err := fmt.Fprintf(handshake, "1|%d|unix|%s|grpc|%s\n", ContractVersion, listener.Addr(), certificate); err != nil {
		return errors.Join(err, listener.Close())
	}
	return s.Serve(listener)
}

// roomForATable lets the heap grow to 16 MiB before the collector of garbage runs for the
// first time, unless GOGC says otherwise: most plugins give their table within that and end.
func roomForATable() {
	const percent, usual = 400, 100
	if stated := debug.SetGCPercent(percent); stated != usual {
		debug.SetGCPercent(stated)
	}
}

// mutual gives mutual TLS with the one certificate of a host, in PEM, and the plugin's own
// as the handshake has it.
func mutual(client string) ([]grpc.ServerOption, string, error) {
	if client == "" {
		return nil, "", fmt.Errorf("%s is not set: the plugin serves only a host that gives its certificate by it", ClientCertificate)
	}
	accepted := x509.NewCertPool()
	if !accepted.AppendCertsFromPEM([]byte(client)) {
		return nil, "", fmt.Errorf("%s holds no certificate in PEM", ClientCertificate)
	}
	own, err := Certificate()
	if err != nil {
		return nil, "", err
	}
	return []grpc.ServerOption{grpc.Creds(credentials.NewTLS(&tls.Config{
		Certificates: []tls.Certificate{own},
		ClientAuth:   tls.RequireAndVerifyClientCert,
		ClientCAs:    accepted,
		MinVersion:   tls.VersionTLS12,
	}))}, base64.RawStdEncoding.EncodeToString(own.Certificate[0]), nil
}

// listen opens a socket in the folder, or in one of its own if none is given. Its name is new:
// the folder may have that of another plugin, or of one that was killed.
func listen(folder string) (_ net.Listener, tidy func(), _ error) {
	tidy = func() {}
	if folder == "" {
		own, err := os.MkdirTemp("", "rules")
		if err != nil {
			return nil, nil, err
		}
		folder, tidy = own, func() { _ = os.RemoveAll(own) }
	}
	l, err := net.Listen("unix", filepath.Join(folder, "rules-"+rand.Text()[:8]))
	if err != nil {
		tidy()
		return nil, nil, err
	}
	return l, tidy, nil
}

func healthy() healthv1.HealthServer {
	h := health.NewServer()
	h.SetServingStatus("plugin", healthv1.HealthCheckResponse_SERVING) // what go-plugin's Ping asks for
	return h
}

// The services of go-plugin v1.8.0 that a host of it calls, of its grpc_controller.proto
// and grpc_stdio.proto. Its own messages are internal to it; they are as empty as
// emptypb's, but for what the host is sent of standard output.
var (
	controller = grpc.ServiceDesc{
		ServiceName: "plugin.GRPCController", HandlerType: (*any)(nil),
		Methods: []grpc.MethodDesc{{MethodName: "Shutdown", Handler: shutdown}},
	}
	stdio = grpc.ServiceDesc{
		ServiceName: "plugin.GRPCStdio", HandlerType: (*any)(nil),
		Streams: []grpc.StreamDesc{{StreamName: "StreamStdio", Handler: sendOutput, ServerStreams: true}},
	}
)

// shutdown cuts all calls off, this one too: who asks for it waits for the end of the
// process.
func shutdown(s any, _ context.Context, read func(any) error, _ grpc.UnaryServerInterceptor) (any, error) {
	if err := read(&emptypb.Empty{}); err != nil {
		return nil, err
	}
	s.(*grpc.Server).Stop()
	return &emptypb.Empty{}, nil
}

// sendOutput sends the host what is written to standard output.
func sendOutput(output any, stream grpc.ServerStream) error {
	if err := stream.RecvMsg(&emptypb.Empty{}); err != nil {
		return err
	}
	block := make([]byte, 1<<10)
	for {
		n, err := output.(*os.File).Read(block)
		if err != nil {
			return err
		}
		if err := stream.SendMsg(outputData(block[:n])); err != nil {
			return err
		}
	}
}

// outputData is go-plugin's message StdioData of the channel STDOUT. An unknown field is
// written as a known one is.
func outputData(b []byte) *emptypb.Empty {
	const channel, standardOutput, data = 1, 1, 2
	wire := protowire.AppendVarint(protowire.AppendTag(nil, channel, protowire.VarintType), standardOutput)
	wire = protowire.AppendBytes(protowire.AppendTag(wire, data, protowire.BytesType), b)
	m := &emptypb.Empty{}
	m.ProtoReflect().SetUnknown(wire)
	return m
}
