package rulehost

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
)

// snapshot is all that a host knows at one moment. It does not change: a change
// makes another and puts it in its place.
type snapshot struct {
	dir   string
	trust *rulerelease.Trust
	lock  *rulerelease.Lock
	// lockText is the lock as it lies in the folder; nil where none does.
	lockText []byte
	found    []*found             // what lies in the folder, by file
	known    map[string]*admitted // every table that was ever admitted, by digest
	// active is what decides, by the id of the rule set: what the lock pins and was
	// admitted, and what is unsigned and was named.
	active  map[string]*admitted
	faults  []Fault // why what should decide does not
	kept    []Fault // sets that decide though their pin could not be loaded anew
	catalog *Catalog
}

// newSnapshot settles what is active, given what the folder holds. before is what
// the host held until now.
func newSnapshot(a *admission, list []*found, before *snapshot) *snapshot {
	s := &snapshot{
		dir: a.dir, trust: a.trust, lock: a.lock, lockText: a.lockText, found: list,
		known: maps.Clone(before.known), active: map[string]*admitted{},
	}
	s.learn(list)
	for i := range a.lock.Sets {
		if pin := a.lock.Sets[i].Active; pin != nil {
			s.settle(pin, before)
		}
	}
	s.takeUnpinned()
	if len(s.active) == 0 && len(s.faults) == 0 {
		s.faults = []Fault{{Where: a.dir, Problem: nothingActive(list)}}
	}
	s.catalog = newCatalog(s.active, s.faults, s.kept)
	return s
}

func nothingActive(list []*found) string {
	if len(list) == 0 {
		return "the folder is empty, so no rules are known and nothing may be treated; put the compiled rule sets of the place there"
	}
	return fmt.Sprintf("none of the %d files of the folder is pinned in %s, so no rules are known and nothing may be treated; see rootward rules releases, then pin or activate what is the law", len(list), rulerelease.LockFile)
}

// learn keeps the tables that were admitted. Of two builds of one table the signed
// one counts, then the first by name.
func (s *snapshot) learn(list []*found) {
	fresh := map[string]bool{}
	for _, f := range list {
		if f.admitted == nil {
			continue
		}
		digest := f.admitted.set.Ref.Digest
		if !fresh[digest] || len(s.known[digest].signers) == 0 && len(f.signers) > 0 {
			s.known[digest] = f.admitted
			fresh[digest] = true
		}
	}
}

// settle makes a pinned release active. Where that fails, the set that this server
// ran until now goes on, unless what is pinned has lost its trust; where there is
// none, its place has a gap.
func (s *snapshot) settle(pin *rulerelease.Entry, before *snapshot) {
	id := pin.Release.RuleSet
	b, f := s.pinned(pin)
	if b != nil {
		s.active[id] = b
		return
	}
	fault := Fault{Where: pin.File, RuleSet: id, Scope: pin.Release.Scope, Problem: unfit(pin, f)}
	distrusted := f != nil && f.revoked && f.sum == pin.Release.Binary
	if last := before.active[id]; last != nil && !distrusted && s.trusts(last) {
		fault.Problem += fmt.Sprintf("; version %s, which this server read before, goes on deciding until it ends", last.release.Version)
		s.active[id] = last
		s.kept = append(s.kept, fault)
		return
	}
	s.faults = append(s.faults, fault)
}

// trusts reports whether a set that was active has not lost its trust since, for
// instance because its key was taken from the list, whatever became of its file.
func (s *snapshot) trusts(b *admitted) bool {
	if b.note == nil {
		return true // --unsigned names it for as long as this server runs
	}
	_, err := s.trust.Check(b.note)
	return err == nil
}

// pinned finds the build that a pin names by its digests, wherever it lies in the
// folder, and otherwise what lies there under the name of its file.
func (s *snapshot) pinned(pin *rulerelease.Entry) (*admitted, *found) {
	var near *found
	for _, f := range s.found {
		if f.sum == pin.Release.Binary && (near == nil || near.sum != f.sum || f.file == pin.File) {
			near = f
		}
		if f.file == pin.File && near == nil {
			near = f
		}
	}
	if near == nil || near.admitted == nil || near.sum != pin.Release.Binary || near.admitted.release != pin.Release {
		return nil, near
	}
	return near.admitted, near
}

// unfit says why a pinned release is not active.
func unfit(pin *rulerelease.Entry, f *found) string {
	r := &pin.Release
	switch {
	case f == nil:
		return fmt.Sprintf("release %s of rule set %s, which %s pins, is not in the folder; put its file back, or roll back", r.Version, r.RuleSet, rulerelease.LockFile)
	case f.sum != "" && f.sum != r.Binary:
		return fmt.Sprintf("the file has SHA-256 %.12s, and %s pins %.12s as release %s of rule set %s: it was changed, and is not run; put the file back, or activate the new one", f.sum, rulerelease.LockFile, r.Binary, r.Version, r.RuleSet)
	case f.problem != "":
		return f.problem
	}
	return fmt.Sprintf("gives something else than %s pins: %s; put the file back that was activated", rulerelease.LockFile, differing(r, &f.admitted.release))
}

// takeUnpinned makes active what the operator named though nothing pins it, unless
// the lock says what is active of that rule set.
func (s *snapshot) takeUnpinned() {
	files := map[string][]string{}
	for _, f := range s.found {
		if f.byName && f.admitted != nil && s.lock.Set(f.ruleSet) == nil {
			files[f.ruleSet] = append(files[f.ruleSet], f.file)
		}
	}
	for _, f := range s.found {
		switch {
		case !f.byName || f.ruleSet != "" && s.lock.Set(f.ruleSet) != nil:
		case f.admitted == nil:
			s.faults = append(s.faults, Fault{Where: f.file, RuleSet: f.ruleSet, Scope: f.scope, Problem: f.problem})
		case len(files[f.ruleSet]) > 1:
			s.faults = append(s.faults, Fault{Where: f.file, RuleSet: f.ruleSet, Scope: f.scope, Problem: twins(f.ruleSet, files[f.ruleSet])})
		default:
			s.active[f.ruleSet] = f.admitted
		}
	}
}

// twins words that several builds hold one rule set. Which of them is the law
// cannot be known, and choosing one could allow what the other forbids.
func twins(id string, files []string) string {
	return fmt.Sprintf("holds rule set %q, as do others: %s; leave the one that is in force in the folder, or activate it", id, strings.Join(files, ", "))
}

// with gives the snapshot in which builds have taken the places of those of the
// same rule set. A nil build leaves the place empty.
func (s *snapshot) with(lock *rulerelease.Lock, places map[string]*admitted) *snapshot {
	next := *s
	next.lock, next.active = lock, maps.Clone(s.active)
	for id, b := range places {
		if next.active[id] = b; b == nil {
			delete(next.active, id)
		}
	}
	replaced := func(f Fault) bool {
		_, ok := places[f.RuleSet]
		return ok || f.RuleSet == "" && f.Where == s.dir
	}
	next.faults = slices.DeleteFunc(slices.Clone(s.faults), replaced)
	next.kept = slices.DeleteFunc(slices.Clone(s.kept), replaced)
	if len(next.active) == 0 && len(next.faults) == 0 {
		next.faults = []Fault{{Where: s.dir, Problem: nothingActive(s.found)}}
	}
	next.catalog = newCatalog(next.active, next.faults, next.kept)
	return &next
}

// usable gives the builds that decide or may be tried: those that decide first, then
// those that are signed.
func (s *snapshot) usable() []*admitted {
	list := slices.Collect(maps.Values(s.active))
	var unsigned []*admitted
	for _, f := range s.found {
		switch {
		case f.admitted == nil:
		case len(f.signers) == 0:
			unsigned = append(unsigned, f.admitted)
		default:
			list = append(list, f.admitted)
		}
	}
	return append(list, unsigned...)
}

// digestOf is the digest of the table that decides for a rule set; empty for none.
func (s *snapshot) digestOf(id string) string {
	if b := s.active[id]; b != nil {
		return b.set.Ref.Digest
	}
	return ""
}

// eligible gives the build in the folder that holds a table, and the file that
// was refused where there is only such a one.
func (s *snapshot) eligible(digest string) (*admitted, *found) {
	var best *found
	for _, f := range s.found {
		if f.admitted != nil && f.admitted.set.Ref.Digest == digest && (best == nil || len(best.signers) == 0 && len(f.signers) > 0) {
			best = f
		}
	}
	if best == nil {
		return nil, nil
	}
	return best.admitted, best
}

func newCatalog(active map[string]*admitted, faults, kept []Fault) *Catalog {
	c := &Catalog{NotLoaded: slices.Clone(faults), Kept: slices.Clone(kept)}
	for _, b := range active {
		c.Sets = append(c.Sets, b.set)
	}
	slices.SortFunc(c.Sets, func(a, b *rules.Set) int {
		return cmp.Or(cmp.Compare(a.Ref.Layer, b.Ref.Layer), cmp.Compare(a.Ref.ID, b.Ref.ID))
	})
	byFile := func(a, b Fault) int { return cmp.Compare(a.Where, b.Where) }
	slices.SortFunc(c.NotLoaded, byFile)
	slices.SortFunc(c.Kept, byFile)
	return c
}
