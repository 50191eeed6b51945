package ruletest

import (
	"context"
	"fmt"
	"net"
	"os"
	"testing"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/rulewire"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"
)

// Check serves the table in this process, takes it through a real client as a
// host does, and fails the test unless it is valid, is the same at each call,
// passes its own worked cases, and the cases reach every row: each row applies in
// one of them, each row that can forbid forbids in one, and each buffer, window
// and standing lets one through.
func Check(t *testing.T, table func() rules.Table) {
	t.Helper()
	client := serve(t, table)
	first, second := compile(t, client), compile(t, client)
	assert.Equal(t, first.Ref.Digest, second.Ref.Digest, "the table differs from one call to the next")
	for _, gap := range untested(first) {
		assert.Fail(t, gap)
	}
}

// Said gives what each row of the table that applies to a case said, by id.
func Said(t *testing.T, table rules.Table, c rules.Case) map[string]rules.Decision {
	t.Helper()
	set, err := rules.NewSet(table)
	require.NoError(t, err)
	return said(set, &c)
}

func serve(t *testing.T, table func() rules.Table) pluginv1.RulePluginServiceClient {
	listener := bufconn.Listen(1 << 20)
	server := grpc.NewServer()
	pluginv1.RegisterRulePluginServiceServer(server, rulesdk.Service(table, os.Stderr))
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(server.Stop)
	conn, err := grpc.NewClient("passthrough:///plugin", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, conn.Close()) })
	return pluginv1.NewRulePluginServiceClient(conn)
}

func compile(t *testing.T, client pluginv1.RulePluginServiceClient) *rules.Set {
	t.Helper()
	res, err := client.Compile(t.Context(), &pluginv1.CompileRequest{ContractVersion: ruleplugin.ContractVersion})
	require.NoError(t, err)
	table, err := rulewire.DecodeTable(res.GetTable())
	require.NoError(t, err)
	set, err := rules.NewSet(table)
	require.NoError(t, err, "the table does not load")
	return set
}

func said(s *rules.Set, c *rules.Case) map[string]rules.Decision {
	decisions := map[string]rules.Decision{}
	g := rules.Govern(s.Table.Manifest.Scope, c.On, []*rules.Set{s})
	for _, f := range g.Narrow(c.Treatment).Explain(&c.Site) {
		decisions[f.Row.ID] = f.Decision
	}
	return decisions
}

// untested lists what the worked cases do not reach.
func untested(s *rules.Set) []string {
	reached := map[string]map[rules.Decision]bool{}
	for i := range s.Table.Cases {
		for id, d := range said(s, &s.Table.Cases[i]) {
			if reached[id] == nil {
				reached[id] = map[rules.Decision]bool{}
			}
			reached[id][d] = true
		}
	}
	var gaps []string
	for i := range s.Table.Rows {
		r := &s.Table.Rows[i]
		if gap := untestedRow(r, reached[r.ID]); gap != "" {
			gaps = append(gaps, fmt.Sprintf("row %s (%s): %s", r.ID, r.Effect.Kind(), gap))
		}
	}
	return gaps
}

func untestedRow(r *rules.Row, reached map[rules.Decision]bool) string {
	forbids, passes := false, false
	switch r.Effect.Kind() {
	case rules.KindProhibit:
		forbids = true
	case rules.KindBuffer, rules.KindWindow, rules.KindStanding:
		forbids, passes = true, true
	}
	switch {
	case len(reached) == 0:
		return "no worked case is one that it applies to; add one"
	case forbids && !reached[rules.Prohibited]:
		return "no worked case is forbidden by it; add one just inside its limit"
	case passes && !reached[rules.Allowed]:
		return "no worked case is let through by it; add one just outside its limit"
	}
	return ""
}
