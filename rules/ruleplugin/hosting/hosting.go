// Package hosting is the host's half of the plugin contract: what go-plugin is given to
// start a rule plugin and to speak with it.
//
// It is separate so that a plugin holds nothing of it: go-plugin and what it brings along
// made a third of each.
package hosting

import (
	"context"
	"errors"

	"github.com/hashicorp/go-hclog"
	goplugin "github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules/ruleplugin"
)

// Handshake tells a plugin that a host of this contract started it.
var Handshake = goplugin.HandshakeConfig{
	ProtocolVersion:  ruleplugin.ContractVersion,
	MagicCookieKey:   ruleplugin.Cookie,
	MagicCookieValue: ruleplugin.CookieValue,
}

// Plugins is the set of plugins for the host's side.
func Plugins() goplugin.PluginSet { return goplugin.PluginSet{ruleplugin.Name: &service{}} }

// Silent is a logger for go-plugin that says nothing. It has the level Off, not
// merely no output: with any other level go-plugin v1.8.0 parses each line of a
// plugin's standard error as a log entry, and the line {"@message":1} makes that
// panic in the host.
func Silent() hclog.Logger { return hclog.New(&hclog.LoggerOptions{Level: hclog.Off}) }

// service gives the gRPC service of a plugin through go-plugin.
type service struct {
	goplugin.NetRPCUnsupportedPlugin
}

// GRPCServer serves nothing: plugins serve by ruleplugin.Serve.
func (*service) GRPCServer(*goplugin.GRPCBroker, *grpc.Server) error {
	return errors.New("this is the host's side")
}

// GRPCClient gives a pluginv1.RulePluginServiceClient.
func (*service) GRPCClient(_ context.Context, _ *goplugin.GRPCBroker, conn *grpc.ClientConn) (any, error) {
	return pluginv1.NewRulePluginServiceClient(conn), nil
}
