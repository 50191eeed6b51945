package rulesdk_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

func TestCompileGivesTheTable(t *testing.T) {
	res, err := rulesdk.Service(table, &bytes.Buffer{}).Compile(t.Context(), &pluginv1.CompileRequest{ContractVersion: 1})
	require.NoError(t, err)
	assert.Equal(t, "test-set", res.GetTable().GetManifest().GetRuleSetId())
	assert.Len(t, res.GetTable().GetRows(), 1)
}

func TestAPanicReachesTheHostWithoutItsStack(t *testing.T) {
	var log bytes.Buffer
	res, err := rulesdk.Service(panicking, &log).Compile(t.Context(), &pluginv1.CompileRequest{ContractVersion: 1})
	assert.Nil(t, res)
	assert.Equal(t, codes.Internal, status.Code(err))
	assert.Equal(t, "compiling the rule table panicked: no rows today", status.Convert(err).Message())
	assert.Contains(t, log.String(), "goroutine")
	assert.Contains(t, log.String(), "panicking")
}

// What is wrong with a rule set is told by file and line, not as a fault of the program.
func TestFaultsOfARuleSetReachTheHostAsTheyAre(t *testing.T) {
	faulty := func() rules.Table {
		return rulesdk.RuleSet{Manifest: table().Manifest, Rows: []rulesdk.Rule{rulesdk.Row("empty").Purpose("").Citation("").From(2026, time.January, 1).When(rules.Selector{}).Then(rules.Warn{Message: "x"})}}.Table()
	}
	var log bytes.Buffer
	_, err := rulesdk.Service(faulty, &log).Compile(t.Context(), &pluginv1.CompileRequest{ContractVersion: 1})
	assert.Equal(t, codes.Internal, status.Code(err))
	message := status.Convert(err).Message()
	assert.Regexp(t, `^service_test\.go:\d+: `, message)
	assert.NotContains(t, message, "panicked")
	assert.Empty(t, log.String())
}

func TestAnotherContractIsRefused(t *testing.T) {
	for _, version := range []int32{0, 2, -1} {
		_, err := rulesdk.Service(table, &bytes.Buffer{}).Compile(t.Context(), &pluginv1.CompileRequest{ContractVersion: version})
		assert.Equal(t, codes.FailedPrecondition, status.Code(err))
		assert.Contains(t, err.Error(), "version 1")
	}
}

func TestACaseLeavesItsBaseAsItWas(t *testing.T) {
	base := rules.Case{Name: "base", Want: rules.Conditional, By: []string{"a"}}
	other := rulesdk.Case(base, "other", rulesdk.Water(rules.Lake, 5, rules.BankTop), rulesdk.Measure(rules.Slope, 7),
		rulesdk.On(2026, 8, 10), rulesdk.With(func(t *rules.Treatment) { t.Method = rules.CutStump }), rulesdk.Forbidden("b"))
	assert.Equal(t, rules.Case{Name: "base", Want: rules.Conditional, By: []string{"a"}}, base)
	assert.Equal(t, []string{"b"}, other.By)
	assert.Equal(t, rules.Prohibited, other.Want)
	assert.Equal(t, rules.CutStump, other.Treatment.Method)
	lake, known := other.Site.Water.Get(rules.Lake)
	assert.True(t, known)
	assert.Equal(t, rules.WaterDistance{Distance: 5, Origin: rules.BankTop}, lake)
	slope, _ := other.Site.Measures.Get(rules.Slope)
	assert.EqualValues(t, 7, slope)
	assert.Equal(t, "2026-08-10", other.On.String())
}
