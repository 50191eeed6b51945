package api

import (
	"context"
	"errors"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
)

// RuleSet serves RuleSetService.
type RuleSet struct {
	rulesetv1.UnimplementedRuleSetServiceServer
	source
	catalogue *treatment.Catalogue
}

// NewRuleSet makes the service. Without a host the law is fixed: it is shown, and
// cannot be changed.
func NewRuleSet(c *treatment.Catalogue, current Current, host RuleHost) *RuleSet {
	return &RuleSet{source: source{current, host}, catalogue: c}
}

// ListRuleSets lists the sets that are active and those that could not be loaded.
func (s *RuleSet) ListRuleSets(_ context.Context, q *rulesetv1.ListRuleSetsRequest) (*rulesetv1.ListRuleSetsResponse, error) {
	var f faults
	var on civil.Date
	if q.GetOn() != nil {
		on = f.day("on", q.GetOn())
	}
	f.name("place", q.GetPlace())
	if err := f.err(); err != nil {
		return nil, err
	}
	law := s.current()
	r := &rulesetv1.ListRuleSetsResponse{}
	for _, set := range law.Sets {
		if governs(set, q.GetPlace(), on) {
			r.RuleSets = append(r.RuleSets, &rulesetv1.RuleSetSummary{
				Ref: rulewire.EncodeRef(set.Ref), Manifest: rulewire.EncodeManifest(&set.Table.Manifest),
				RowCount: int32(len(set.Table.Rows)),
			})
		}
	}
	for _, n := range law.NotLoaded {
		r.NotLoaded = append(r.NotLoaded, &commonv1.Fault{Where: n.Where, Problem: n.Problem})
	}
	return r, nil
}

// governs reports whether a set governs a place on a day; an empty place and no
// day are any.
func governs(s *rules.Set, place string, on civil.Date) bool {
	m := &s.Table.Manifest
	return (place == "" || slices.Contains(rules.Levels(place), m.Scope)) && (!on.Known() || m.InForce(on))
}

// GetRuleSet gives one active set with all its rows.
func (s *RuleSet) GetRuleSet(_ context.Context, q *rulesetv1.GetRuleSetRequest) (*rulesetv1.GetRuleSetResponse, error) {
	var f faults
	id := f.required("rule_set_id", q.GetRuleSetId(), "name a set; ListRuleSets lists them")
	if err := f.err(); err != nil {
		return nil, err
	}
	for _, set := range s.current().Sets {
		if set.Ref.ID == id {
			return &rulesetv1.GetRuleSetResponse{Ref: rulewire.EncodeRef(set.Ref), Table: rulewire.EncodeTable(&set.Table)}, nil
		}
	}
	return nil, fail(codes.NotFound, RuleSetNotFound, facts{"rule_set_id": id},
		"rule set %q is not active: ListRuleSets lists those that are, and why others are not", id)
}

// Explain evaluates the rules of a place for one treatment of one stem.
func (s *RuleSet) Explain(ctx context.Context, q *rulesetv1.ExplainRequest) (*rulesetv1.ExplainResponse, error) {
	var f faults
	place := f.required("place", q.GetPlace(), "state the place, as \"us/velmora\"")
	on := f.day("on", q.GetOn())
	f.unless(q.GetTreatment() != nil, "treatment", "is missing: state what would be done")
	treatment, err := rulewire.DecodeTreatment(q.GetTreatment())
	f.within("treatment", err)
	surroundings, err := rulewire.DecodeSurroundings(q.GetSite())
	f.within("site", err)
	f.trial(q.GetTrialDigests())
	var facts rules.SiteFacts
	if p := q.GetPosition(); p != nil {
		facts = f.position("position.", p.LatitudeDeg, p.LongitudeDeg, p.ElevationM)
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	law, err := s.law(q.GetTrialDigests())
	if err != nil {
		return nil, err
	}
	g := law.at(ctx, law.Govern(place, on), facts)
	findings := g.Narrow(treatment).Explain(&surroundings)
	r := &rulesetv1.ExplainResponse{
		Decision: rulewire.EncodeDecision(decisionOf(findings, g.Gaps)), Findings: make(sharedFindings).write(findings), RuleSets: writeRefs(g.Sets),
		Conflicts: writeConflicts(rules.Conflicts(findings)), Overdue: writeRefs(g.Overdue),
	}
	for _, gap := range g.Gaps {
		r.Gaps = append(r.Gaps, &commonv1.Fault{Where: gap.Place, Problem: gap.Reason})
	}
	return r, nil
}

func writeConflicts(list []rules.Conflict) []*rulesetv1.Conflict {
	var out []*rulesetv1.Conflict
	for _, c := range list {
		out = append(out, &rulesetv1.Conflict{
			RuleSet: rulewire.EncodeRef(c.Holds.Set), RuleId: c.Holds.Row.ID,
			OtherRuleSet: rulewire.EncodeRef(c.Other.Set), OtherRuleId: c.Other.Row.ID, Text: c.Text,
		})
	}
	return out
}

// decisionOf is the strictest of the findings and of the gaps.
func decisionOf(findings []rules.Finding, gaps []rules.Gap) rules.Decision {
	decision := rules.Allowed
	if len(gaps) > 0 {
		decision = rules.Undetermined
	}
	for _, f := range findings {
		decision = rules.Stricter(decision, f.Decision)
	}
	return decision
}

// within adds what rulewire found wrong with a message of the request.
func (f *faults) within(field string, err error) {
	var list rules.Faults
	if !errors.As(err, &list) {
		return
	}
	for _, fault := range list {
		path := fault.Row
		if path != field && !strings.HasPrefix(path, field+".") {
			path = field + "." + path
		}
		f.add(path, "%s", fault.Problem)
	}
}
