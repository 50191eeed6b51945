package ruletest

import (
	"context"
	"fmt"
	"net"
	"os"
	"strings"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulecoverage"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/rulewire"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/proto"
)

// Run is the whole kit: Check, then CheckBinary on the plugin in the folder, which
// must serve the very table.
func Run(t T, table func() rules.Table, dir string) {
	t.Helper()
	set := check(t, table)
	if binary := CheckBinary(t, dir); binary != nil && binary.Ref.Digest != set.Ref.Digest {
		t.Errorf("the binary serves %s %s (digest %s), not the table of the test (%s); does its main function give another table?",
			binary.Ref.ID, binary.Ref.Version, binary.Ref.Digest, set.Ref.Digest)
	}
}

// Check serves the table in this process, takes it through a real client as a
// host does, and fails the test unless it is valid, is the same at each call,
// passes its own worked cases, and the cases show every row: that it applies and
// that it does not, and both sides of each of its limits. What is missing is
// described as the case to add.
func Check(t T, table func() rules.Table) {
	t.Helper()
	check(t, table)
}

func check(t T, table func() rules.Table) *rules.Set {
	t.Helper()
	set := compileOften(t, serve(t, table))
	for _, gap := range untested(set) {
		t.Errorf("%s", gap)
	}
	return set
}

// Said gives what each row of the table that applies to a case said, by id.
func Said(t T, table rules.Table, c rules.Case) map[string]rules.Decision {
	t.Helper()
	set, err := rules.NewSet(table)
	require.NoError(t, err)
	decisions := map[string]rules.Decision{}
	for _, f := range rulecoverage.Explain(set, &c) {
		decisions[f.Row.ID] = f.Decision
	}
	return decisions
}

func serve(t T, table func() rules.Table) pluginv1.RulePluginServiceClient {
	return serveService(t, rulesdk.Service(table, os.Stderr))
}

func serveService(t T, service pluginv1.RulePluginServiceServer) pluginv1.RulePluginServiceClient {
	listener := bufconn.Listen(1 << 20)
	server := grpc.NewServer()
	pluginv1.RegisterRulePluginServiceServer(server, service)
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(server.Stop)
	conn, err := grpc.NewClient("passthrough:///plugin", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxTable)))
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	return pluginv1.NewRulePluginServiceClient(conn)
}

// maxTable is the largest table that a host takes unless its operator says
// otherwise, in bytes on the wire.
const maxTable = 4 << 20

// calls is how often a table is asked for. A map's order, which begins anywhere, is
// the same each time by chance alone once in a thousand for a map of two.
const calls = 10

// compileOften fails the test unless the table is the same at each call, and loads.
func compileOften(t T, client pluginv1.RulePluginServiceClient) *rules.Set {
	t.Helper()
	first := fetch(t, client)
	for range calls - 1 {
		if !proto.Equal(first, fetch(t, client)) {
			t.Errorf("the table differs from one call to the next; it must not depend on time, chance or the order of a map")
			break
		}
	}
	return load(t, first)
}

func fetch(t T, client pluginv1.RulePluginServiceClient) *pluginv1.CompileResponse {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), limitsOf(t).Answer)
	defer cancel()
	res, err := client.Compile(ctx, &pluginv1.CompileRequest{ContractVersion: ruleplugin.ContractVersion})
	if err != nil {
		s := status.Convert(err)
		if s.Code() == codes.Internal { // its own words
			fail(t, "it gives no table:\n%s", s.Message())
		}
		fail(t, "it does not give its table within %s: %s: %s", limitsOf(t).Answer, s.Code(), s.Message())
	}
	return res
}

func load(t T, res *pluginv1.CompileResponse) *rules.Set {
	t.Helper()
	table, err := rulewire.DecodeTable(res.GetTable())
	if err != nil {
		fail(t, "the table cannot be read:\n%s", err)
	}
	set, err := rules.NewSet(table)
	if err != nil {
		fail(t, "the table does not load:\n%s", err)
	}
	return set
}

func fail(t T, format string, args ...any) {
	t.Helper()
	t.Errorf("%s", strings.TrimSpace(fmt.Sprintf(format, args...)))
	t.FailNow()
}
