package api_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/api"
)

// refusal is how a host refuses.
type refusal string

func (r refusal) Error() string   { return "because of " + string(r) }
func (r refusal) Refusal() string { return string(r) }

// folder is a host of some sets, the first of each id active. Its err is what every
// change ends with.
type folder struct {
	sets     []*rules.Set
	compared [][2]string
	err      error
	did      []string
}

func (h *folder) Trial(digests []string) (api.Law, error) {
	var sets []*rules.Set
	for _, d := range digests {
		set, err := h.Admitted(d)
		if err != nil {
			return api.Law{}, err
		}
		sets = append(sets, set)
	}
	for _, s := range h.active() {
		if !slices.ContainsFunc(sets, func(t *rules.Set) bool { return t.Ref.ID == s.Ref.ID }) {
			sets = append(sets, s)
		}
	}
	return lawOf(sets...), nil
}

func (h *folder) active() []*rules.Set {
	var sets []*rules.Set
	for _, s := range h.sets {
		if !slices.ContainsFunc(sets, func(t *rules.Set) bool { return t.Ref.ID == s.Ref.ID }) {
			sets = append(sets, s)
		}
	}
	return sets
}

func (h *folder) Releases(context.Context) ([]api.Release, error) {
	list := []api.Release{{File: "broken", State: api.ReleaseRefused, Problem: "it is not signed: sign it"}}
	for _, s := range h.sets {
		list = append(list, api.Release{File: s.Ref.ID, State: api.ReleaseEligible, Set: s, BinaryDigest: "b", Signers: []string{"key"}, Previous: true})
	}
	return list, h.err
}

func (h *folder) Admitted(digest string) (*rules.Set, error) {
	for _, s := range h.sets {
		if s.Ref.Digest == digest {
			return s, nil
		}
	}
	return nil, refusal(api.UnknownDigest)
}

func (h *folder) Compared(old, new string) { h.compared = append(h.compared, [2]string{old, new}) }

func (h *folder) change(what ...string) (api.Change, error) {
	h.did = what
	return api.Change{Active: h.sets[1].Ref, Previous: h.sets[0].Ref}, h.err
}

func (h *folder) Activate(_ context.Context, digest, with, by string) (api.Change, error) {
	c, err := h.change("activate", digest, with, by)
	if with == "" {
		c.Previous = rules.Ref{}
	}
	return c, err
}

func (h *folder) RollBack(_ context.Context, id, digest, by string) (api.Change, error) {
	return h.change("roll back", id, digest, by)
}

func (h *folder) Retire(_ context.Context, id, digest, by string) (api.Change, error) {
	return h.change("retire", id, digest, by)
}

func (h *folder) Status() api.HostStatus {
	return api.HostStatus{
		Layers: []api.ConfinementLayer{{Name: "landlock", Detail: "the kernel is too old"}, {Name: "rlimits", InForce: true}},
		Plugins: []api.PluginStatus{
			{File: "velmora", RuleSetID: "velmora", State: api.PluginRunning, Starts: 1},
			{File: "broken", State: api.PluginBackingOff, Starts: 3, Failures: 2, RetryAt: time.Unix(1_800_000_000, 0), Problem: "it ended", LastLines: []string{"oh"}},
		},
	}
}

// stateWith is an edition of the invented state's law.
func stateWith(tb testing.TB, version string, distance quantity.Micrometres) *rules.Set {
	s, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{
			ID: "velmora", Version: version, Title: "Invented law", Publisher: "Invented agency", Layer: rules.State, Scope: "us/velmora", ValidFrom: lawFrom,
		},
		Rows: []rules.Row{row("streams", rules.Selector{}, rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: distance, From: rules.WaterEdge})},
	})
	require.NoError(tb, err)
	return s
}

// editions is a host with an old and a laxer state.
func editions(tb testing.TB) (h *folder, old, lax *rules.Set, c clients) {
	old, lax = stateWith(tb, "1", 60*quantity.Metre), stateWith(tb, "2", 2*quantity.Metre)
	h = &folder{sets: []*rules.Set{old, lax, nation(tb), creek(tb)}}
	return h, old, lax, serveHost(tb, func() api.Law { return lawOf(h.active()...) }, h)
}

func TestAFixedLawCannotBeChanged(t *testing.T) {
	c, digest := serveFull(t), strings.Repeat("a", 64)
	for name, call := range map[string]func() error{
		"list": func() error {
			_, err := c.rules.ListReleases(t.Context(), &rulesetv1.ListReleasesRequest{})
			return err
		},
		"compare": func() error {
			_, err := c.rules.CompareRuleSets(t.Context(), &rulesetv1.CompareRuleSetsRequest{})
			return err
		},
		"activate": func() error {
			_, err := c.rules.ActivateRuleSet(t.Context(), &rulesetv1.ActivateRuleSetRequest{})
			return err
		},
		"back": func() error {
			_, err := c.rules.RollBackRuleSet(t.Context(), &rulesetv1.RollBackRuleSetRequest{})
			return err
		},
		"retire": func() error {
			_, err := c.rules.RetireRuleSet(t.Context(), &rulesetv1.RetireRuleSetRequest{})
			return err
		},
		"status": func() error {
			_, err := c.rules.GetHostStatus(t.Context(), &rulesetv1.GetHostStatusRequest{})
			return err
		},
		"trial": func() error {
			q := foliarNearLake(30)
			q.TrialDigests = []string{digest}
			_, err := c.rules.Explain(t.Context(), q)
			return err
		},
	} {
		t.Run(name, func(t *testing.T) {
			err := call()
			requireStatus(t, err, codes.FailedPrecondition, api.FixedLaw, name)
			assert.Contains(t, err.Error(), "this server serves a fixed law")
		})
	}
}

func TestReleasesAreListed(t *testing.T) {
	h, old, _, c := editions(t)
	r, err := c.rules.ListReleases(t.Context(), &rulesetv1.ListReleasesRequest{RuleSetId: "velmora"})
	require.NoError(t, err)
	require.Len(t, r.Releases, 3, "both editions, and the one of which it is not known whose it is")
	assert.Equal(t, rulesetv1.ReleaseState_RELEASE_STATE_REFUSED, r.Releases[0].State)
	assert.Nil(t, r.Releases[0].Ref)
	assert.Equal(t, "it is not signed: sign it", r.Releases[0].Problem)
	assert.Equal(t, old.Ref.Digest, r.Releases[1].Ref.Digest)
	assert.Equal(t, "us/velmora", r.Releases[1].Manifest.Scope)
	assert.Equal(t, rulesetv1.ReleaseState_RELEASE_STATE_ELIGIBLE, r.Releases[1].State)
	assert.True(t, r.Releases[1].Previous)
	all, err := c.rules.ListReleases(t.Context(), &rulesetv1.ListReleasesRequest{})
	require.NoError(t, err)
	assert.Len(t, all.Releases, 5)

	h.err = errors.New("trust.yaml:3: no such layer")
	_, err = c.rules.ListReleases(t.Context(), &rulesetv1.ListReleasesRequest{})
	requireStatus(t, err, codes.FailedPrecondition, api.RulesFolder, "an unreadable folder")
	assert.Contains(t, err.Error(), "trust.yaml:3: no such layer")
}

func TestAComparisonIsRemembered(t *testing.T) {
	h, old, lax, c := editions(t)
	r, err := c.rules.CompareRuleSets(t.Context(), &rulesetv1.CompareRuleSetsRequest{OldDigest: old.Ref.Digest, NewDigest: lax.Ref.Digest})
	require.NoError(t, err)
	assert.Equal(t, []string{"version: 2, was 1"}, r.ManifestChanges)
	require.Len(t, r.RowChanges, 1)
	change := r.RowChanges[0]
	assert.Equal(t, rulesetv1.RowChangeKind_ROW_CHANGE_KIND_CHANGED, change.Kind)
	assert.True(t, change.MayLift)
	assert.Equal(t, []string{"effect"}, change.Parts)
	assert.Contains(t, change.OldText, "60 m")
	assert.Contains(t, change.NewText, "2 m")
	assert.Equal(t, []string{"1", "2"}, []string{r.Old.Version, r.New.Version})

	fresh, err := c.rules.CompareRuleSets(t.Context(), &rulesetv1.CompareRuleSetsRequest{NewDigest: lax.Ref.Digest})
	require.NoError(t, err)
	assert.Nil(t, fresh.Old)
	require.Len(t, fresh.RowChanges, 1)
	assert.Equal(t, rulesetv1.RowChangeKind_ROW_CHANGE_KIND_ADDED, fresh.RowChanges[0].Kind)
	assert.Equal(t, [][2]string{{old.Ref.Digest, lax.Ref.Digest}, {"", lax.Ref.Digest}}, h.compared)

	_, err = c.rules.CompareRuleSets(t.Context(), &rulesetv1.CompareRuleSetsRequest{OldDigest: strings.Repeat("0", 64), NewDigest: lax.Ref.Digest})
	requireStatus(t, err, codes.NotFound, api.UnknownDigest, "an old table that nobody has")
	assert.Len(t, h.compared, 2)
	_, err = c.rules.CompareRuleSets(t.Context(), &rulesetv1.CompareRuleSetsRequest{OldDigest: "1", NewDigest: strings.Repeat("A", 64)})
	requireViolations(t, err, "new_digest", "old_digest")
}

func TestRuleSetsAreChanged(t *testing.T) {
	h, old, lax, c := editions(t)
	a, err := c.rules.ActivateRuleSet(t.Context(), &rulesetv1.ActivateRuleSetRequest{Digest: lax.Ref.Digest, ComparedWithDigest: old.Ref.Digest, DecidedBy: "A. Operator"})
	require.NoError(t, err)
	assert.Equal(t, []string{"activate", lax.Ref.Digest, old.Ref.Digest, "A. Operator"}, h.did)
	assert.Equal(t, []string{"2", "1"}, []string{a.Active.Version, a.Previous.Version})
	first, err := c.rules.ActivateRuleSet(t.Context(), &rulesetv1.ActivateRuleSetRequest{Digest: lax.Ref.Digest, DecidedBy: "A. Operator"})
	require.NoError(t, err)
	assert.Nil(t, first.Previous)

	b, err := c.rules.RollBackRuleSet(t.Context(), &rulesetv1.RollBackRuleSetRequest{RuleSetId: "velmora", ActiveDigest: old.Ref.Digest, DecidedBy: "B"})
	require.NoError(t, err)
	assert.Equal(t, []string{"roll back", "velmora", old.Ref.Digest, "B"}, h.did)
	assert.Equal(t, []string{"2", "1"}, []string{b.Active.Version, b.Previous.Version})

	r, err := c.rules.RetireRuleSet(t.Context(), &rulesetv1.RetireRuleSetRequest{RuleSetId: "velmora", ActiveDigest: old.Ref.Digest, DecidedBy: "C"})
	require.NoError(t, err)
	assert.Equal(t, []string{"retire", "velmora", old.Ref.Digest, "C"}, h.did)
	assert.Equal(t, "1", r.Retired.Version)
}

func TestAChangeThatIsNotMadeSaysWhy(t *testing.T) {
	h, old, lax, c := editions(t)
	_, err := c.rules.ActivateRuleSet(t.Context(), &rulesetv1.ActivateRuleSetRequest{ComparedWithDigest: "none"})
	requireViolations(t, err, "compared_with_digest", "decided_by", "digest")
	_, err = c.rules.RollBackRuleSet(t.Context(), &rulesetv1.RollBackRuleSetRequest{DecidedBy: strings.Repeat("x", 201)})
	requireViolations(t, err, "active_digest", "decided_by", "rule_set_id")
	_, err = c.rules.RetireRuleSet(t.Context(), &rulesetv1.RetireRuleSetRequest{})
	requireViolations(t, err, "active_digest", "decided_by", "rule_set_id")
	assert.Empty(t, h.did)

	for reason, code := range map[api.Reason]codes.Code{
		api.ChangesOff: codes.PermissionDenied, api.UnknownDigest: codes.NotFound, api.ChangedMeanwhile: codes.Aborted,
		api.NotEligible: codes.FailedPrecondition, api.NotCompared: codes.FailedPrecondition, api.NothingBefore: codes.FailedPrecondition,
		api.Overlap: codes.FailedPrecondition, api.NotActive: codes.FailedPrecondition,
	} {
		h.err = refusal(reason)
		_, err := c.rules.ActivateRuleSet(t.Context(), &rulesetv1.ActivateRuleSetRequest{Digest: lax.Ref.Digest, ComparedWithDigest: old.Ref.Digest, DecidedBy: "A"})
		requireStatus(t, err, code, reason, string(reason))
		assert.Contains(t, err.Error(), "because of "+string(reason))
	}
	h.err = context.Canceled
	_, err = c.rules.RollBackRuleSet(t.Context(), &rulesetv1.RollBackRuleSetRequest{RuleSetId: "velmora", ActiveDigest: old.Ref.Digest, DecidedBy: "A"})
	assert.Equal(t, codes.Canceled, status.Code(err))
}

func TestTheStatusOfTheHost(t *testing.T) {
	_, _, _, c := editions(t)
	r, err := c.rules.GetHostStatus(t.Context(), &rulesetv1.GetHostStatusRequest{})
	require.NoError(t, err)
	require.Len(t, r.Layers, 2)
	assert.Equal(t, []bool{false, true}, []bool{r.Layers[0].InForce, r.Layers[1].InForce})
	require.Len(t, r.Plugins, 2)
	assert.Nil(t, r.Plugins[0].RetryAt)
	assert.Equal(t, rulesetv1.PluginState_PLUGIN_STATE_BACKING_OFF, r.Plugins[1].State)
	assert.EqualValues(t, 1_800_000_000, r.Plugins[1].RetryAt.Seconds)
	assert.Equal(t, []string{"oh"}, r.Plugins[1].LastLines)
}

// A table on trial decides the one request and no other.
func TestATableOnTrial(t *testing.T) {
	_, old, lax, c := editions(t)
	decide := func(digests ...string) *rulesetv1.ExplainResponse {
		q := foliarNearLake(30)
		q.TrialDigests = digests
		r, err := c.rules.Explain(t.Context(), q)
		require.NoError(t, err)
		return r
	}
	assert.Equal(t, commonv1.Decision_DECISION_PROHIBITED, decide().Decision)
	tried := decide(lax.Ref.Digest)
	assert.Equal(t, commonv1.Decision_DECISION_CONDITIONAL, tried.Decision, "of the nation alone")
	assert.Equal(t, "2", tried.RuleSets[1].Version)
	assert.Equal(t, commonv1.Decision_DECISION_PROHIBITED, decide(old.Ref.Digest).Decision)

	q := &treatmentv1.PrescribeRequest{Date: midsummer(), Site: goodSite(), Stems: []*treatmentv1.Stem{goodStem()}, TrialDigests: []string{lax.Ref.Digest}}
	r, err := c.Prescribe(t.Context(), q)
	require.NoError(t, err)
	assert.Contains(t, versions(r.Summary.RuleSets), "velmora 2")
	q.TrialDigests = nil
	r, err = c.Prescribe(t.Context(), q)
	require.NoError(t, err)
	assert.Contains(t, versions(r.Summary.RuleSets), "velmora 1")

	answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}, TrialDigests: []string{lax.Ref.Digest}}),
		chunk(chunkOf(1, goodSite().SiteId, []*treatmentv1.Stem{goodStem()})))
	require.NoError(t, err)
	require.Len(t, answers, 2)
	assert.Contains(t, versions(answers[1].GetSummary().RuleSets), "velmora 2")

	q.TrialDigests = []string{strings.Repeat("0", 64)}
	_, err = c.Prescribe(t.Context(), q)
	requireStatus(t, err, codes.NotFound, api.UnknownDigest, "a table that nobody has")
	q.TrialDigests, q.Date = append(slices.Repeat([]string{lax.Ref.Digest}, 64), "x"), nil
	_, err = c.Prescribe(t.Context(), q)
	requireViolations(t, err, "date", "trial_digests")
}

func versions(refs []*commonv1.RuleSetRef) []string {
	var list []string
	for _, r := range refs {
		list = append(list, r.GetRuleSetId()+" "+r.GetVersion())
	}
	return list
}

func TestExplainShowsWhereSetsDiffer(t *testing.T) {
	strict := setOf(t, "ossel-creek", rules.District, district,
		row("lakes", rules.Selector{}, rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: 90 * quantity.Metre, From: rules.WaterEdge}))
	old := *stateWith(t, "1", 60*quantity.Metre)
	old.Table.Manifest.ReviewBy = lawFrom + 1
	law := lawOf(nation(t), &old, strict)
	c := serve(t, func() api.Law { return law })
	r, err := c.rules.Explain(t.Context(), foliarNearLake(30))
	require.NoError(t, err)
	require.Len(t, r.Conflicts, 1)
	assert.Equal(t, []string{"ossel-creek", "lakes", "velmora", "streams"},
		[]string{r.Conflicts[0].RuleSet.RuleSetId, r.Conflicts[0].RuleId, r.Conflicts[0].OtherRuleSet.RuleSetId, r.Conflicts[0].OtherRuleId})
	assert.Contains(t, r.Conflicts[0].Text, "holds")
	assert.Equal(t, []string{"velmora 1"}, versions(r.Overdue))

	answer, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: goodSite(), Stems: []*treatmentv1.Stem{goodStem()}})
	require.NoError(t, err)
	require.Len(t, answer.Explanations, 1)
	assert.Contains(t, answer.Explanations[0].Conflicts, r.Conflicts[0].Text)
}

// Explain asks the plugins for the site that it is told of.
func TestExplainComputesForThePosition(t *testing.T) {
	law := lawOf(nation(t), setOf(t, "velmora", rules.State, "us/velmora",
		row("thaw", rules.Selector{}, rules.Computed{Method: "latitude", Needs: rules.AnyOf(rules.FactPosition)})))
	var asked []rules.SiteFacts
	law.Compute = func(_ context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
		asked = sites
		answers := map[*rules.Row]rules.Answer{}
		for _, r := range g.Computed() {
			answers[r.Row] = rules.Answer{Kind: rules.Closed, Words: "too far north"}
		}
		return []*rules.Governing{g.Resolve(answers)}
	}
	c := serve(t, func() api.Law { return law })
	q := foliarNearLake(500)
	q.Place = "us/velmora"
	q.Position = &rulesetv1.SitePosition{LatitudeDeg: ptr(45.5), LongitudeDeg: ptr(-90.0), ElevationM: ptr(300.0)}
	r, err := c.rules.Explain(t.Context(), q)
	require.NoError(t, err)
	assert.Equal(t, commonv1.Decision_DECISION_PROHIBITED, r.Decision)
	assert.Equal(t, []rules.SiteFacts{{HasPosition: true, Latitude: 455_000_000, Longitude: -900_000_000, HasElevation: true, Elevation: 300 * quantity.Metre}}, asked)

	q.Position = &rulesetv1.SitePosition{LatitudeDeg: ptr(95.0), LongitudeDeg: ptr(0.0), ElevationM: ptr(9_001.0)}
	_, err = c.rules.Explain(t.Context(), q)
	requireViolations(t, err, "position.elevation_m", "position.latitude_deg")
}
