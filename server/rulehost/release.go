package rulehost

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"sync"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// ReleaseState is what may be done with a release.
type ReleaseState int

// The states of a release.
const (
	Active ReleaseState = iota + 1
	Eligible
	Refused
)

// Release is one build of a rule set in the folder, or one that is pinned and
// missing.
type Release struct {
	File         string
	RuleSet      string // empty if nobody knows
	State        ReleaseState
	Set          *rules.Set // nil where it was not compiled
	BinaryDigest string     // SHA-256 of the file, lower-case hexadecimal
	Signers      []string
	Problem      string // why it was refused, or what an active one wants, and what to do
	Previous     bool   // RollBack would bring it back
}

// Releases looks into the folder anew, admits what is new, and lists every release
// by rule set, the active one first. What is active does not change.
func (h *Host) Releases(ctx context.Context) ([]Release, error) {
	h.changing.Lock()
	defer h.changing.Unlock()
	defer h.config.ending.Wait()
	now := h.now.Load()
	a, err := h.admission(now.dir)
	if err != nil {
		return nil, err
	}
	a.lock, a.known = now.lock, byBinary(now)
	list, err := a.all(ctx)
	if err != nil {
		return nil, err
	}
	next := now.rescanned(a, list)
	h.swap(next)
	return next.releases(h.today()), nil
}

// byBinary gives the builds of the folder that were admitted, by SHA-256.
func byBinary(s *snapshot) map[string]*admitted {
	known := map[string]*admitted{}
	for _, f := range s.found {
		if f.admitted != nil {
			known[f.sum] = f.admitted
		}
	}
	return known
}

// rescanned gives a snapshot that knows what the folder holds now.
func (s *snapshot) rescanned(a *admission, list []*found) *snapshot {
	next := *s
	next.trust, next.found, next.known = a.trust, list, maps.Clone(s.known)
	next.learn(list)
	return &next
}

func (s *snapshot) releases(today civil.Date) []Release {
	var list []Release
	shown := map[string]bool{} // ids whose active release is listed
	for _, f := range s.found {
		r := s.release(f, today)
		shown[r.RuleSet] = shown[r.RuleSet] || r.State == Active
		list = append(list, r)
	}
	for id, b := range s.active {
		if !shown[id] {
			list = append(list, Release{
				File: b.info.Name(), RuleSet: id, State: Active, Set: b.set, BinaryDigest: b.release.Binary,
				Signers: b.signers, Problem: s.keptBecause(id),
			})
		}
	}
	for _, f := range s.faults {
		if pin := s.lock.Active(f.RuleSet); pin != nil && !slices.ContainsFunc(list, func(r Release) bool { return r.File == f.Where }) {
			list = append(list, Release{File: f.Where, RuleSet: f.RuleSet, State: Refused, BinaryDigest: pin.Release.Binary, Signers: pin.Signers, Problem: f.Problem})
		}
	}
	slices.SortStableFunc(list, func(a, b Release) int {
		return cmp.Or(cmp.Compare(a.RuleSet, b.RuleSet), cmp.Compare(a.State, b.State), cmp.Compare(a.File, b.File))
	})
	return list
}

func (s *snapshot) release(f *found, today civil.Date) Release {
	r := Release{File: f.file, RuleSet: f.ruleSet, State: Refused, BinaryDigest: f.sum, Signers: f.signers, Problem: f.problem}
	if f.admitted == nil {
		r.RuleSet = cmp.Or(r.RuleSet, s.pinnedUnder(f.file))
		return r
	}
	r.Set, r.State = f.admitted.set, Eligible
	if b := s.active[f.ruleSet]; b != nil && b.release == f.admitted.release {
		r.State = Active
		r.Problem = cmp.Or(s.keptBecause(f.ruleSet), dateProblem(b.set, today))
	}
	if before, err := s.lock.Before(f.ruleSet); err == nil {
		r.Previous = r.State == Eligible && before.Release.Table == r.Set.Ref.Digest
	}
	return r
}

// pinnedUnder gives the rule set whose active release has this file; empty for none.
func (s *snapshot) pinnedUnder(file string) string {
	for _, set := range s.lock.Sets {
		if set.Active != nil && set.Active.File == file {
			return set.RuleSet
		}
	}
	return ""
}

// keptBecause says why a set decides that is not what is pinned; empty otherwise.
func (s *snapshot) keptBecause(id string) string {
	for _, f := range s.kept {
		if f.RuleSet == id {
			return f.Problem
		}
	}
	return ""
}

// Admitted gives the set of a digest, whether it is active or not, and whether or
// not its file is still there.
func (h *Host) Admitted(digest string) (*rules.Set, error) {
	if b := h.now.Load().known[digest]; b != nil {
		return b.set, nil
	}
	return nil, unknown(digest)
}

func unknown(digest string) error {
	return refuse(unknownDigest, "no admitted table has the digest %q; rootward rules releases lists those of the folder", clipDigest(digest))
}

func clipDigest(d string) string { return fmt.Sprintf("%.64s", d) }

// Trial gives the catalog that would hold if the admitted tables of these digests
// were active in the place of those of the same rule set.
func (h *Host) Trial(digests []string) (*Catalog, error) {
	now := h.now.Load()
	places := map[string]*admitted{}
	for _, d := range digests {
		b := now.known[d]
		if b == nil {
			return nil, unknown(d)
		}
		id := b.set.Ref.ID
		if other := places[id]; other != nil && other.set.Ref.Digest != d {
			return nil, refuse(overlap, "the tables %s and %s are both of rule set %q, which has one table at a time; try them one after the other", short(other.set.Ref.Digest), short(d), id)
		}
		places[id] = b
	}
	return now.with(now.lock, places).catalog, nil
}

// pairs remembers which tables were compared.
type pairs struct {
	mu   sync.Mutex
	list [][2]string // the latest last
}

// maxPairs bounds how many comparisons are remembered.
const maxPairs = 1_000

// Compared remembers that the pair was compared. An empty old digest stands for no
// table. Of many pairs it remembers the latest thousand, until the server stops.
func (h *Host) Compared(old, next string) {
	h.pairs.mu.Lock()
	defer h.pairs.mu.Unlock()
	pair := [2]string{old, next}
	h.pairs.list = append(slices.DeleteFunc(h.pairs.list, func(p [2]string) bool { return p == pair }), pair)
	if len(h.pairs.list) > maxPairs {
		h.pairs.list = slices.Delete(h.pairs.list, 0, 1)
	}
}

func (p *pairs) has(old, next string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Contains(p.list, [2]string{old, next})
}
