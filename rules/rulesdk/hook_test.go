package rulesdk_test

import (
	"bytes"
	"context"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/rulewire"
)

var demoDay = civil.Of(2026, 8, 10)

// byHeight closes what lies above 1,000 m.
func byHeight(_ context.Context, row string, _ civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error) {
	answers := make([]rules.Answer, len(sites))
	for i, s := range sites {
		answers[i] = rules.Answer{Kind: rules.NotRestricted, Words: row + " below 1,000 m"}
		if s.Elevation > 1_000*quantity.Metre {
			answers[i] = rules.Answer{Kind: rules.Closed, Words: row + " above 1,000 m"}
		}
	}
	return answers, nil
}

func digestOf(t *testing.T) string {
	t.Helper()
	set, err := rules.NewSet(table())
	require.NoError(t, err)
	served, err := rulewire.DecodeTable(rulewire.EncodeTable(&set.Table))
	require.NoError(t, err)
	set, err = rules.NewSet(served)
	require.NoError(t, err)
	return set.Ref.Digest
}

func question(t *testing.T, change func(*pluginv1.EvaluateSitesRequest)) *pluginv1.EvaluateSitesRequest {
	t.Helper()
	q := &pluginv1.EvaluateSitesRequest{
		TableDigest: digestOf(t), RuleIds: []string{"spring", "autumn"}, On: rulewire.EncodeDate(demoDay),
		Sites: rulewire.EncodeSites([]rules.SiteFacts{
			{HasElevation: true, Elevation: 900 * quantity.Metre}, {HasElevation: true, Elevation: 1_100 * quantity.Metre},
		}),
	}
	if change != nil {
		change(q)
	}
	return q
}

func TestEvaluateSitesAnswersRowByRow(t *testing.T) {
	service := rulesdk.ServiceWith(rulesdk.Plugin{Table: table, Evaluate: byHeight}, &bytes.Buffer{})
	res, err := service.EvaluateSites(t.Context(), question(t, nil))
	require.NoError(t, err)
	require.Len(t, res.GetRules(), 2)
	for i, row := range []string{"spring", "autumn"} {
		answers, err := rulewire.DecodeAnswers(res.GetRules()[i], row, 2)
		require.NoError(t, err)
		assert.Equal(t, []rules.Answer{
			{Kind: rules.NotRestricted, Words: row + " below 1,000 m"}, {Kind: rules.Closed, Words: row + " above 1,000 m"},
		}, answers)
	}
}

func TestEvaluateSitesRefuses(t *testing.T) {
	failing := func(do func()) rulesdk.Plugin {
		return rulesdk.Plugin{Table: table, Evaluate: func(context.Context, string, civil.Date, []rules.SiteFacts) ([]rules.Answer, error) {
			do()
			return nil, errors.New("the snow has not melted")
		}}
	}
	sound := rulesdk.Plugin{Table: table, Evaluate: byHeight}
	cases := []struct {
		name   string
		plugin rulesdk.Plugin
		change func(*pluginv1.EvaluateSitesRequest)
		code   codes.Code
		want   string
	}{
		{"a plugin without the hook", rulesdk.Plugin{Table: table}, nil, codes.Unimplemented, "computes no rows"},
		{"another table", sound, func(q *pluginv1.EvaluateSitesRequest) { q.TableDigest = "abc" }, codes.FailedPrecondition, "rows of abc; load the plugin again"},
		{"a table that panics", rulesdk.Plugin{Table: panicking, Evaluate: byHeight}, nil, codes.FailedPrecondition, "panicked: no rows today"},
		{"no day", sound, func(q *pluginv1.EvaluateSitesRequest) { q.On = nil }, codes.InvalidArgument, "on: is no day"},
		{"sites that cannot be read", sound, func(q *pluginv1.EvaluateSitesRequest) { q.Sites.Count = 3 }, codes.InvalidArgument, "2 values for 3 sites"},
		{"a panic", failing(func() { panic("on site 7") }), nil, codes.Internal, "computing row spring panicked: on site 7"},
		{"an error", failing(func() {}), nil, codes.Internal, "computing row spring: the snow has not melted"},
		{"answers for other sites", rulesdk.Plugin{Table: table, Evaluate: func(context.Context, string, civil.Date, []rules.SiteFacts) ([]rules.Answer, error) {
			return make([]rules.Answer, 1), nil
		}}, nil, codes.Internal, "gave 1 answers for 2 sites"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var log bytes.Buffer
			res, err := rulesdk.ServiceWith(c.plugin, &log).EvaluateSites(t.Context(), question(t, c.change))
			assert.Nil(t, res)
			assert.Equal(t, c.code, status.Code(err))
			assert.Contains(t, status.Convert(err).Message(), c.want)
			assert.NotContains(t, status.Convert(err).Message(), "goroutine")
			assert.Equal(t, c.name == "a panic", bytes.Contains(log.Bytes(), []byte("goroutine")), "the stack goes to the log: %s", log.String())
		})
	}
}

func TestEvaluateSitesEndsWithItsCaller(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	patient := rulesdk.Plugin{Table: table, Evaluate: func(ctx context.Context, _ string, _ civil.Date, _ []rules.SiteFacts) ([]rules.Answer, error) {
		cancel()
		<-ctx.Done()
		return nil, nil
	}}
	_, err := rulesdk.ServiceWith(patient, &bytes.Buffer{}).EvaluateSites(ctx, question(t, nil))
	assert.Equal(t, codes.Canceled, status.Code(err))
}
