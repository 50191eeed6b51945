// Package core answers the bench's question with the product itself: the tables as the
// rule plugins give them, and the core of the server.
package core

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	goplugin "github.com/hashicorp/go-plugin"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/ruleplugin/hosting"
	"example.org/rootward/rules/rulewire"
)

// RuleSets are the plugins of the three layers.
var RuleSets = []string{"federal", "velmora", "ossel-creek"}

// BuildPlugins builds plugins of the module in a folder into another.
func BuildPlugins(ctx context.Context, module, into string, names ...string) error {
	args := []string{"build", "-ldflags=-s -w", "-tags=grpcnotrace", "-o", into + string(filepath.Separator)}
	for _, n := range names {
		args = append(args, "./plugins/"+n)
	}
	cmd := exec.CommandContext(ctx, "go", args...)
	cmd.Dir, cmd.Env = module, append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("building the rule plugins: %w\n%s", err, out)
	}
	return nil
}

// Sets asks built plugins for their tables.
func Sets(ctx context.Context, dir string, names ...string) ([]*rules.Set, error) {
	var sets []*rules.Set
	for _, n := range names {
		s, err := set(ctx, filepath.Join(dir, n))
		if err != nil {
			return nil, fmt.Errorf("rule plugin %s: %w", n, err)
		}
		sets = append(sets, s)
	}
	return sets, nil
}

func set(ctx context.Context, path string) (*rules.Set, error) {
	p, err := Start(path)
	if err != nil {
		return nil, err
	}
	defer p.Kill()
	connection, err := p.Client()
	if err != nil {
		return nil, err
	}
	served, err := connection.Dispense(ruleplugin.Name)
	if err != nil {
		return nil, err
	}
	answer, err := served.(pluginv1.RulePluginServiceClient).Compile(ctx, &pluginv1.CompileRequest{ContractVersion: ruleplugin.ContractVersion})
	if err != nil {
		return nil, err
	}
	table, err := rulewire.DecodeTable(answer.GetTable())
	if err != nil {
		return nil, err
	}
	return rules.NewSet(table)
}

// Start starts a plugin as a host does, but for its confinement, and waits until they
// have shaken hands. The caller kills it.
func Start(path string) (*goplugin.Client, error) {
	p := goplugin.NewClient(&goplugin.ClientConfig{
		HandshakeConfig: hosting.Handshake, Plugins: hosting.Plugins(), Cmd: exec.Command(path),
		AllowedProtocols: []goplugin.Protocol{goplugin.ProtocolGRPC}, AutoMTLS: true, SkipHostEnv: true,
		StartTimeout: 30 * time.Second, Logger: hosting.Silent(),
	})
	if _, err := p.Client(); err != nil {
		p.Kill()
		return nil, err
	}
	return p, nil
}
