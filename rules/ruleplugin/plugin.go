package ruleplugin

import (
	"context"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"github.com/hashicorp/go-hclog"
	goplugin "github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"
)

// ContractVersion is the version of rootward.plugin.v1 that this program speaks.
const ContractVersion = 1

// Name is the name under which a plugin serves its rule set.
const Name = "rules"

// Handshake tells a plugin that a host of this contract started it. It is no
// security measure: it only keeps other programs from being taken for plugins.
var Handshake = goplugin.HandshakeConfig{
	ProtocolVersion:  ContractVersion,
	MagicCookieKey:   "ROOTWARD_RULE_PLUGIN",
	MagicCookieValue: "rule-table",
}

// Plugins is the set of plugins for the host's side.
func Plugins() goplugin.PluginSet { return goplugin.PluginSet{Name: &service{}} }

// Serve serves a rule set on the plugin's side and returns when the host has
// closed the connection. It takes over the process's standard output.
func Serve(server pluginv1.RulePluginServiceServer) {
	goplugin.Serve(&goplugin.ServeConfig{
		HandshakeConfig: Handshake,
		Plugins:         goplugin.PluginSet{Name: &service{server: server}},
		GRPCServer:      goplugin.DefaultGRPCServer,
		Logger:          Silent(),
	})
}

// Silent is a logger for go-plugin that says nothing. It has the level Off, not
// merely no output: with any other level go-plugin v1.8.0 parses each line of a
// plugin's standard error as a log entry, and the line {"@message":1} makes that
// panic in the host.
func Silent() hclog.Logger { return hclog.New(&hclog.LoggerOptions{Level: hclog.Off}) }

// service carries the gRPC service through go-plugin, on either side.
type service struct {
	goplugin.NetRPCUnsupportedPlugin
	server pluginv1.RulePluginServiceServer
}

// GRPCServer registers the service on the plugin's side.
func (s *service) GRPCServer(_ *goplugin.GRPCBroker, g *grpc.Server) error {
	pluginv1.RegisterRulePluginServiceServer(g, s.server)
	return nil
}

// GRPCClient gives a pluginv1.RulePluginServiceClient on the host's side.
func (s *service) GRPCClient(_ context.Context, _ *goplugin.GRPCBroker, conn *grpc.ClientConn) (any, error) {
	return pluginv1.NewRulePluginServiceClient(conn), nil
}
