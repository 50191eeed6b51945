package ruletest

import (
	"context"
	"os"
	"slices"
	"time"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/rulewire"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// hookLimit is how long a host waits for a row at fullChunk sites.
const (
	hookLimit = 2 * time.Second
	fullChunk = 4_096
)

// CheckHook serves the plugin in this process, asks through a real client for each
// computed row of its table at the sites in the middle of each month, and fails the
// test unless the answers can be kept by a host: they are the same at each call,
// whatever the order of the sites and whatever other sites there are; a site that
// lacks a fact that the row needs stays undetermined; 4,096 sites are answered in
// time, and a call that was given up ends. Each site must have every fact that some
// row needs.
func CheckHook(t T, plugin rulesdk.Plugin, sites ...rules.SiteFacts) {
	t.Helper()
	require.NotEmpty(t, sites, "give sites to ask for")
	h := newHook(t, plugin)
	require.NotEmpty(t, h.rows, "the table has no computed row")
	for _, r := range h.rows {
		needs := r.Effect.(rules.Computed).Needs
		for i := range sites {
			_, missing := sites[i].For(needs)
			require.Zero(t, missing, "site %d lacks what row %s needs: %s", i, r.ID, missing)
		}
		for month := time.January; month <= time.December; month++ {
			h.checkAnswers(r, civil.Of(2026, month, 15), sites)
		}
		h.checkLimits(r, sites)
	}
}

// Answer gives what the plugin says of one site on a day.
func Answer(t T, plugin rulesdk.Plugin, row string, on civil.Date, site rules.SiteFacts) rules.Answer {
	t.Helper()
	h := newHook(t, plugin)
	for _, r := range h.rows {
		if r.ID == row {
			return h.ask(r, on, []rules.SiteFacts{site})[0]
		}
	}
	require.Fail(t, "the table has no such computed row", row)
	return rules.Answer{}
}

// hook is a served plugin with its computed rows.
type hook struct {
	t      T
	client pluginv1.RulePluginServiceClient
	digest string
	rows   []rules.Row
}

func newHook(t T, plugin rulesdk.Plugin) *hook {
	t.Helper()
	h := &hook{t: t, client: serveService(t, rulesdk.ServiceWith(plugin, os.Stderr))}
	set := compileOften(t, h.client)
	h.digest = set.Ref.Digest
	for _, r := range set.Table.Rows {
		if r.Effect.Kind() == rules.KindComputed {
			h.rows = append(h.rows, r)
		}
	}
	return h
}

// ask gives the answers for sites as a host asks for them.
func (h *hook) ask(r rules.Row, on civil.Date, sites []rules.SiteFacts) []rules.Answer {
	h.t.Helper()
	res, err := h.put(h.t.Context(), r, on, sites)
	require.NoError(h.t, err, "row %s on %s", r.ID, on)
	require.Len(h.t, res.GetRules(), 1)
	answers, err := rulewire.DecodeAnswers(res.GetRules()[0], r.ID, len(sites))
	require.NoError(h.t, err, "row %s on %s", r.ID, on)
	return answers
}

func (h *hook) put(ctx context.Context, r rules.Row, on civil.Date, sites []rules.SiteFacts) (*pluginv1.EvaluateSitesResponse, error) {
	told := make([]rules.SiteFacts, len(sites))
	for i := range sites {
		told[i], _ = sites[i].For(r.Effect.(rules.Computed).Needs)
	}
	return h.client.EvaluateSites(ctx, &pluginv1.EvaluateSitesRequest{
		TableDigest: h.digest, RuleIds: []string{r.ID}, On: rulewire.EncodeDate(on), Sites: rulewire.EncodeSites(told),
	})
}

func (h *hook) checkAnswers(r rules.Row, on civil.Date, sites []rules.SiteFacts) {
	h.t.Helper()
	want := h.ask(r, on, sites)
	assert.Equal(h.t, want, h.ask(r, on, sites), "row %s on %s: not the same when asked twice", r.ID, on)
	backwards, answers := slices.Clone(sites), slices.Clone(want)
	slices.Reverse(backwards)
	slices.Reverse(answers)
	assert.Equal(h.t, answers, h.ask(r, on, backwards), "row %s on %s: depends on the order of the sites", r.ID, on)
	assert.Equal(h.t, slices.Concat(want, want), h.ask(r, on, slices.Concat(sites, sites)), "row %s on %s: equal sites get different answers", r.ID, on)
	for i := range sites {
		assert.Equal(h.t, want[i:i+1], h.ask(r, on, sites[i:i+1]), "row %s on %s: site %d gets another answer alone", r.ID, on, i)
		h.checkMissing(r, on, sites[i])
	}
}

// checkMissing leaves out one fact after another, and then all.
func (h *hook) checkMissing(r rules.Row, on civil.Date, site rules.SiteFacts) {
	h.t.Helper()
	needs := r.Effect.(rules.Computed).Needs
	for _, fact := range needs.Values() {
		without, _ := site.For(needs &^ rules.AnyOf(fact))
		for _, s := range []rules.SiteFacts{without, {}} {
			a := h.ask(r, on, []rules.SiteFacts{s})[0]
			assert.Equal(h.t, rules.FactMissing, a.Kind, "row %s on %s without %s says %s (%s): what is not known is never decided", r.ID, on, fact, a.Kind, a.Words)
		}
	}
}

func (h *hook) checkLimits(r rules.Row, sites []rules.SiteFacts) {
	h.t.Helper()
	full := make([]rules.SiteFacts, fullChunk)
	for i := range full {
		full[i] = sites[i%len(sites)]
	}
	on := civil.Of(2026, time.July, 15)
	ctx, cancel := context.WithTimeout(h.t.Context(), hookLimit)
	defer cancel()
	_, err := h.put(ctx, r, on, full)
	assert.NoError(h.t, err, "row %s at %d sites: a host waits %s", r.ID, fullChunk, hookLimit)
	ended, end := context.WithCancel(h.t.Context())
	end()
	_, err = h.put(ended, r, on, full)
	assert.Equal(h.t, codes.Canceled, status.Code(err), "row %s: a call that was given up goes on", r.ID)
}
