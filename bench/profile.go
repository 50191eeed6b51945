package main

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"runtime/pprof"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/experimental"

	"example.org/rootward/client/command"
	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/server/catalogue"
)

// profileStream writes where the time of a stream goes, with client and server in this
// process, and with files that of the command line besides. go tool pprof -top reads it.
func (b *bench) profileStream(ctx context.Context, path string, files bool) error {
	known, err := catalogue.Default()
	if err != nil {
		return err
	}
	socket := filepath.Join(b.dir, "socket")
	listener, err := net.Listen("unix", socket)
	if err != nil {
		return err
	}
	server := grpc.NewServer(append(api.Options(), grpc.MaxRecvMsgSize(maxMessage))...)
	api.Register(server, api.Services{Catalogue: known, Current: b.law})
	go server.Serve(listener)
	defer server.Stop()
	conn, err := grpc.NewClient("unix:"+socket, grpc.WithTransportCredentials(insecure.NewCredentials()),
		experimental.WithBufferPool(columnar.Memory()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxMessage), grpc.ForceCodecV2(columnar.Codec())))
	if err != nil {
		return err
	}
	defer conn.Close()
	client := treatmentv1.NewTreatmentServiceClient(conn)
	v := draw(int64(b.size(2_000_000, 200_000)))
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := pprof.StartCPUProfile(f); err != nil {
		return err
	}
	defer pprof.StopCPUProfile()
	for range b.size(5, 1) {
		d, err := streamed(ctx, client, v)
		if err != nil {
			return err
		}
		fmt.Printf("%.4g ns a stem\n", each(d, v.rows))
	}
	if !files {
		return nil
	}
	return b.profileFiles(ctx, "unix:"+socket)
}

// profileFiles has the command line, in this process, prescribe a file.
func (b *bench) profileFiles(ctx context.Context, address string) error {
	in, err := b.file(int64(b.size(1_000_000, 200_000)))
	if err != nil {
		return err
	}
	for range b.size(3, 1) {
		var said strings.Builder
		if code := command.Run(ctx, b.prescribeArgs(address, in, b.everything()), &said, &said); code != 0 {
			return fmt.Errorf("rootward prescribe: exit status %d\n%s", code, said.String())
		}
	}
	return nil
}

// maxMessage is as large as the product's client and server take.
const maxMessage = 64 << 20
