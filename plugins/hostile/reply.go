//go:build linux

package main

import (
	"context"
	"strings"
	"time"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/ruleplugin/hosting"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/rulewire"
	goplugin "github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/emptypb"
)

// replies do their act when they are asked for their table. Each is the whole main
// function.
var replies = map[string]func(name string){
	"replies-hugely":    serving(hugeReply),
	"replies-never":     serving(noReply),
	"replies-slowly":    serving(slowReply),
	"replies-endlessly": replyEndlessly,
}

func serving(reply func(context.Context, *ruletablev1.Table) error) func(string) {
	return func(name string) {
		if describing() {
			rulesdk.Main(func() rules.Table { return table(name) })
		}
		ruleplugin.Serve(&replier{name: name, reply: reply})
	}
}

type replier struct {
	pluginv1.UnimplementedRulePluginServiceServer
	name  string
	reply func(context.Context, *ruletablev1.Table) error
}

// Compile implements rootward.plugin.v1.RulePluginService.
func (r *replier) Compile(ctx context.Context, _ *pluginv1.CompileRequest) (*pluginv1.CompileResponse, error) {
	t := table(r.name)
	wire := rulewire.EncodeTable(&t)
	if err := r.reply(ctx, wire); err != nil {
		return nil, err
	}
	return &pluginv1.CompileResponse{Table: wire}, nil
}

// hugeReply gives a table of 20 MiB.
func hugeReply(_ context.Context, t *ruletablev1.Table) error {
	t.Rows[0].Purpose = strings.Repeat("Nothing. ", 20<<20/9)
	return nil
}

// noReply outwaits the caller, who gives up.
func noReply(context.Context, *ruletablev1.Table) error { select {} }

func slowReply(ctx context.Context, _ *ruletablev1.Table) error {
	select {
	case <-ctx.Done():
	case <-time.After(time.Hour):
	}
	return ctx.Err()
}

// replyEndlessly answers a call of one answer with one answer after another.
func replyEndlessly(name string) {
	if describing() {
		rulesdk.Main(func() rules.Table { return table(name) })
	}
	goplugin.Serve(&goplugin.ServeConfig{
		HandshakeConfig: hosting.Handshake,
		Plugins:         goplugin.PluginSet{ruleplugin.Name: noService{}},
		Logger:          hosting.Silent(),
		GRPCServer: func(options []grpc.ServerOption) *grpc.Server {
			return grpc.NewServer(append(options, grpc.UnknownServiceHandler(withoutEnd))...)
		},
	})
}

func withoutEnd(_ any, stream grpc.ServerStream) error {
	for {
		if err := stream.SendMsg(&emptypb.Empty{}); err != nil {
			return err
		}
	}
}

type noService struct {
	goplugin.NetRPCUnsupportedPlugin
}

// GRPCServer registers nothing.
func (noService) GRPCServer(*goplugin.GRPCBroker, *grpc.Server) error { return nil }

// GRPCClient is not used.
func (noService) GRPCClient(context.Context, *goplugin.GRPCBroker, *grpc.ClientConn) (any, error) {
	return nil, nil
}
