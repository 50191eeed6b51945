package rulesdk

import (
	"context"
	"fmt"
	"io"
	"runtime/debug"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulewire"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// Service serves a table. It compiles anew at each call, so that a host can see
// whether the table is the same each time. A panic of table becomes an error of
// code Internal with the panic's message; the stack goes to log alone.
func Service(table func() rules.Table, log io.Writer) pluginv1.RulePluginServiceServer {
	return ServiceWith(Plugin{Table: table}, log)
}

// ServiceWith is Service for a plugin that also computes rows. What Evaluate gives
// in an error or a panic reaches the host as code Internal.
func ServiceWith(p Plugin, log io.Writer) pluginv1.RulePluginServiceServer {
	return &service{plugin: p, digest: p.digest(), log: log}
}

type service struct {
	pluginv1.UnimplementedRulePluginServiceServer
	plugin Plugin
	digest func() (string, error)
	log    io.Writer
}

// Compile implements rootward.plugin.v1.RulePluginService.
func (s *service) Compile(_ context.Context, req *pluginv1.CompileRequest) (res *pluginv1.CompileResponse, err error) {
	defer func() {
		if p := recover(); p != nil {
			if _, stated := p.(Faults); !stated { // they name their lines
				fmt.Fprintf(s.log, "%s\n%s", panicked(p), debug.Stack())
			}
			res, err = nil, status.Error(codes.Internal, panicked(p).Error())
		}
	}()
	if v := req.GetContractVersion(); v != ruleplugin.ContractVersion {
		return nil, status.Errorf(codes.FailedPrecondition,
			"this plugin speaks version %d of the plugin contract and the host asked for %d; build the plugin with the kit of the host's version", ruleplugin.ContractVersion, v)
	}
	t := s.plugin.Table()
	return &pluginv1.CompileResponse{Table: rulewire.EncodeTable(&t)}, nil
}
