package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/types/known/timestamppb"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulewire"
)

// source gives the law that a request is decided by.
type source struct {
	current Current
	host    RuleHost // nil: the law is fixed
}

// law is the law that holds now, with the tables of these checked digests in the place
// of the active ones of the same rule set.
func (s *source) law(trial []string) (Law, error) {
	if len(trial) == 0 {
		return s.current(), nil
	}
	host, err := s.changing()
	if err != nil {
		return Law{}, err
	}
	law, err := host.Trial(trial)
	return law, refused(err)
}

// changing is the host, if the law can be another.
func (s *source) changing() (RuleHost, error) {
	if s.host == nil {
		return nil, fail(codes.FailedPrecondition, FixedLaw, nil, "this server serves a fixed law: use a server that keeps a folder of releases")
	}
	return s.host, nil
}

// maxTrial is how many tables one request tries: a place has a few levels of law.
const maxTrial = 64

// trial checks the digests of a request.
func (f *faults) trial(digests []string) {
	f.unless(len(digests) <= maxTrial, "trial_digests", "%d are given, at most %d can be: try fewer at a time", len(digests), maxTrial)
	for i, d := range digests[:min(len(digests), maxTrial)] {
		f.digest(fmt.Sprintf("trial_digests[%d]", i), d)
	}
}

// digest reads the digest of a table.
func (f *faults) digest(field, s string) string {
	ok := len(s) == 64
	for _, c := range []byte(s) {
		ok = ok && (c >= '0' && c <= '9' || c >= 'a' && c <= 'f')
	}
	f.unless(ok, field, "%s is not a SHA-256 in 64 lower-case hexadecimal digits: ListReleases gives those of the tables", quoted(s))
	return s
}

// optionalDigest reads a digest where none stands for no table.
func (f *faults) optionalDigest(field, s string) string {
	if s == "" {
		return ""
	}
	return f.digest(field, s)
}

// who reads who decided a change.
func (f *faults) who(s string) string {
	return f.required("decided_by", s, "name who decided the change; the log and the lock keep it")
}

// refusalCodes are the codes of refusals of a RuleHost that are no matter of the
// state of its releases.
var refusalCodes = map[Reason]codes.Code{
	ChangesOff: codes.PermissionDenied, UnknownDigest: codes.NotFound, ChangedMeanwhile: codes.Aborted,
}

// refused makes a status of what a RuleHost says. What is wrong with its folder is
// told to the caller, who is its operator.
func refused(err error) error {
	var refusal interface{ Refusal() string }
	switch {
	case err == nil:
		return nil
	case errors.As(err, &refusal):
		reason := Reason(refusal.Refusal())
		code, ok := refusalCodes[reason]
		if !ok {
			code = codes.FailedPrecondition
		}
		return fail(code, reason, nil, "%s", err)
	case errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
		return Status(err)
	}
	return fail(codes.FailedPrecondition, RulesFolder, nil, "the folder of rule sets: %s", err)
}

// ListReleases looks into the folder anew. A release of which it is not known whose
// it is is listed whichever rule set is asked for.
func (s *RuleSet) ListReleases(ctx context.Context, q *rulesetv1.ListReleasesRequest) (*rulesetv1.ListReleasesResponse, error) {
	host, err := s.changing()
	if err != nil {
		return nil, err
	}
	var f faults
	id := f.name("rule_set_id", q.GetRuleSetId())
	if err := f.err(); err != nil {
		return nil, err
	}
	list, err := host.Releases(ctx)
	if err != nil {
		return nil, refused(err)
	}
	r := &rulesetv1.ListReleasesResponse{}
	for i := range list {
		if id == "" || list[i].Set == nil || list[i].Set.Ref.ID == id {
			r.Releases = append(r.Releases, writeRelease(&list[i]))
		}
	}
	return r, nil
}

func writeRelease(r *Release) *rulesetv1.Release {
	p := &rulesetv1.Release{
		File: r.File, State: rulesetv1.ReleaseState(r.State), BinaryDigest: r.BinaryDigest,
		Signers: r.Signers, Problem: r.Problem, Previous: r.Previous,
	}
	if r.Set != nil {
		p.Ref, p.Manifest = rulewire.EncodeRef(r.Set.Ref), rulewire.EncodeManifest(&r.Set.Table.Manifest)
	}
	return p
}

// CompareRuleSets compares two tables row by row.
func (s *RuleSet) CompareRuleSets(_ context.Context, q *rulesetv1.CompareRuleSetsRequest) (*rulesetv1.CompareRuleSetsResponse, error) {
	host, err := s.changing()
	if err != nil {
		return nil, err
	}
	var f faults
	before, after := f.optionalDigest("old_digest", q.GetOldDigest()), f.digest("new_digest", q.GetNewDigest())
	if err := f.err(); err != nil {
		return nil, err
	}
	r := &rulesetv1.CompareRuleSetsResponse{}
	var was *rules.Table
	if before != "" {
		set, err := host.Admitted(before)
		if err != nil {
			return nil, refused(err)
		}
		r.Old, was = rulewire.EncodeRef(set.Ref), &set.Table
	}
	set, err := host.Admitted(after)
	if err != nil {
		return nil, refused(err)
	}
	r.New = rulewire.EncodeRef(set.Ref)
	c := rules.Compare(was, &set.Table)
	r.ManifestChanges = c.Manifest
	for i := range c.Rows {
		r.RowChanges = append(r.RowChanges, writeRowChange(&c.Rows[i]))
	}
	r.NamesNotInCatalogue = notInCatalogue(s.catalogue, &set.Table)
	host.Compared(before, after)
	return r, nil
}

// writeRowChange relies on the messages numbering kinds as rules does.
func writeRowChange(c *rules.RowChange) *rulesetv1.RowChange {
	return &rulesetv1.RowChange{
		RuleId: c.ID, Kind: rulesetv1.RowChangeKind(c.Kind), MayLift: c.MayLift,
		OldText: c.OldText(), NewText: c.NewText(), Parts: c.Parts,
	}
}

// ActivateRuleSet puts a release in the place of the active one.
func (s *RuleSet) ActivateRuleSet(ctx context.Context, q *rulesetv1.ActivateRuleSetRequest) (*rulesetv1.ActivateRuleSetResponse, error) {
	host, err := s.changing()
	if err != nil {
		return nil, err
	}
	var f faults
	digest, with := f.digest("digest", q.GetDigest()), f.optionalDigest("compared_with_digest", q.GetComparedWithDigest())
	by := f.who(q.GetDecidedBy())
	if err := f.err(); err != nil {
		return nil, err
	}
	c, err := host.Activate(ctx, digest, with, by)
	if err != nil {
		return nil, refused(err)
	}
	r := &rulesetv1.ActivateRuleSetResponse{Active: rulewire.EncodeRef(c.Active)}
	if c.Previous != (rules.Ref{}) {
		r.Previous = rulewire.EncodeRef(c.Previous)
	}
	return r, nil
}

// RollBackRuleSet brings back the release that was active before.
func (s *RuleSet) RollBackRuleSet(ctx context.Context, q *rulesetv1.RollBackRuleSetRequest) (*rulesetv1.RollBackRuleSetResponse, error) {
	c, err := s.leave(q, func(h RuleHost) (Change, error) {
		return h.RollBack(ctx, q.GetRuleSetId(), q.GetActiveDigest(), q.GetDecidedBy())
	})
	if err != nil {
		return nil, err
	}
	return &rulesetv1.RollBackRuleSetResponse{Active: rulewire.EncodeRef(c.Active), Previous: rulewire.EncodeRef(c.Previous)}, nil
}

// RetireRuleSet takes a rule set out of force.
func (s *RuleSet) RetireRuleSet(ctx context.Context, q *rulesetv1.RetireRuleSetRequest) (*rulesetv1.RetireRuleSetResponse, error) {
	c, err := s.leave(q, func(h RuleHost) (Change, error) {
		return h.Retire(ctx, q.GetRuleSetId(), q.GetActiveDigest(), q.GetDecidedBy())
	})
	if err != nil {
		return nil, err
	}
	return &rulesetv1.RetireRuleSetResponse{Retired: rulewire.EncodeRef(c.Previous)}, nil
}

// leaving is a request to end that a table is active.
type leaving interface {
	GetRuleSetId() string
	GetActiveDigest() string
	GetDecidedBy() string
}

func (s *RuleSet) leave(q leaving, change func(RuleHost) (Change, error)) (Change, error) {
	host, err := s.changing()
	if err != nil {
		return Change{}, err
	}
	var f faults
	f.required("rule_set_id", q.GetRuleSetId(), "name a set; ListRuleSets lists them")
	f.digest("active_digest", q.GetActiveDigest())
	f.who(q.GetDecidedBy())
	if err := f.err(); err != nil {
		return Change{}, err
	}
	c, err := change(host)
	return c, refused(err)
}

// GetHostStatus tells how plugins are confined and how they fare.
func (s *RuleSet) GetHostStatus(context.Context, *rulesetv1.GetHostStatusRequest) (*rulesetv1.GetHostStatusResponse, error) {
	host, err := s.changing()
	if err != nil {
		return nil, err
	}
	status := host.Status()
	r := &rulesetv1.GetHostStatusResponse{}
	for _, l := range status.Layers {
		r.Layers = append(r.Layers, &rulesetv1.ConfinementLayer{Name: l.Name, InForce: l.InForce, Detail: l.Detail})
	}
	for i := range status.Plugins {
		r.Plugins = append(r.Plugins, writePlugin(&status.Plugins[i]))
	}
	return r, nil
}

func writePlugin(s *PluginStatus) *rulesetv1.PluginStatus {
	p := &rulesetv1.PluginStatus{
		File: s.File, RuleSetId: s.RuleSetID, State: rulesetv1.PluginState(s.State),
		Starts: int32(s.Starts), Failures: int32(s.Failures), Problem: s.Problem, LastLines: slices.Clone(s.LastLines),
	}
	if s.RetryAt != (time.Time{}) {
		p.RetryAt = timestamppb.New(s.RetryAt)
	}
	return p
}
