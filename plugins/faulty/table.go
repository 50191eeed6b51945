package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"time"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/rulewire"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protowire"
)

// table is valid; each fault is right but for its one fault.
func table(id string) rules.Table {
	from := civil.Of(2024, 1, 1)
	return rules.Table{
		Manifest: rules.Manifest{
			ID: id, Version: "1", Title: "A rule set for tests", Publisher: "nobody",
			Layer: rules.District, Scope: "us/velmora/" + id, ValidFrom: from,
		},
		Rows: []rules.Row{{
			ID: "nothing", Purpose: "Nothing is treated here.", Citation: "invented for a test",
			ValidFrom: from, Effect: rules.Prohibit{},
		}},
		Cases: []rules.Case{rulesdk.Case(rulesdk.FoliarSpray(2026, time.August, 10), "nothing", rulesdk.Forbidden("nothing"))},
	}
}

func sound(name string) { rulesdk.Main(func() rules.Table { return table(name) }) }

// invalidTable is by an author who never ran the conformance test.
func invalidTable(name string) {
	rulesdk.Main(func() rules.Table {
		t := table(name)
		t.Rows[0].Purpose = ""
		return t
	})
}

// serving describes a valid table and serves a changed one.
func serving(change func(*ruletablev1.Table)) func(string) {
	return func(name string) {
		if describing() || !hosted() {
			sound(name)
		}
		serve(&changed{name: name, change: change})
	}
}

func serve(s pluginv1.RulePluginServiceServer) {
	if err := ruleplugin.Serve(s); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// takeAnyContract answers hosts of contracts that it does not know.
func takeAnyContract(name string) {
	if describing() || !hosted() {
		sound(name)
	}
	serve(&changed{name: name, change: func(*ruletablev1.Table) {}, anyContract: true})
}

func describing() bool { return len(os.Args) > 1 }

func hosted() bool { return os.Getenv(ruleplugin.Cookie) != "" }

type changed struct {
	pluginv1.UnimplementedRulePluginServiceServer
	name        string
	change      func(*ruletablev1.Table)
	anyContract bool
}

// Compile implements rootward.plugin.v1.RulePluginService.
func (c *changed) Compile(_ context.Context, req *pluginv1.CompileRequest) (*pluginv1.CompileResponse, error) {
	if req.GetContractVersion() != ruleplugin.ContractVersion && !c.anyContract {
		return nil, status.Error(codes.FailedPrecondition, "another contract")
	}
	t := table(c.name)
	wire := rulewire.EncodeTable(&t)
	c.change(wire)
	return &pluginv1.CompileResponse{Table: wire}, nil
}

func withoutCitation(t *ruletablev1.Table) { t.Rows[0].Citation = "" }

// withUnknownEffect gives a row an effect of a kind that no host knows yet.
func withUnknownEffect(t *ruletablev1.Table) {
	effect := &ruletablev1.Effect{}
	effect.ProtoReflect().SetUnknown(protowire.AppendString(protowire.AppendTag(nil, 99, protowire.BytesType), "curfew"))
	t.Rows[0].Effect = effect
}

// withUnknownWord names a method that no host knows yet.
func withUnknownWord(t *ruletablev1.Table) {
	t.Rows[0].When = &ruletablev1.Selector{Methods: []commonv1.Method{99}}
}

func withAnotherScope(t *ruletablev1.Table) { t.Manifest.Scope = "us/velmora/elsewhere" }

// withHugeTitle makes the table larger than a host takes.
func withHugeTitle(t *ruletablev1.Table) { t.Manifest.Title = strings.Repeat("rules ", 4<<20) }

func withAnotherVersion(t *ruletablev1.Table) { t.Manifest.Version = "2" }

func withVersionByCall() func(*ruletablev1.Table) {
	calls := 0
	return func(t *ruletablev1.Table) {
		calls++
		t.Manifest.Version = fmt.Sprint(calls)
	}
}

// nextContract was built for a host of a later contract.
func nextContract(name string) {
	if describing() {
		fmt.Printf(`{"contract_version": 2, "rule_sets": [{"id": %q}]}`+"\n", name)
	}
}
