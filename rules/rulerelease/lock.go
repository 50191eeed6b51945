package rulerelease

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"example.org/rootward/rules"
	"github.com/goccy/go-yaml/ast"
)

// LockFile is the name of the lock in the folder of rule sets.
const LockFile = "rules.lock"

// lockFormat is the version of the lock's form.
const lockFormat = 1

// MaxPast is how many former releases of a rule set the lock keeps, the newest.
const MaxPast = 20

// Lock pins the releases that are active, and keeps those that were. It is not
// changed; what changes gives a new one.
type Lock struct {
	Sets []Pinned // by id
}

// Pinned is what the lock says of one rule set.
type Pinned struct {
	RuleSet string
	Active  *Entry // nil where it was retired
	Past    []Past // the newest first
}

// Entry is one release that is active, or was.
type Entry struct {
	Release   Release
	File      string   // its name in the folder when it was activated
	Signers   []string // names of the keys; none where it ran unsigned
	Since     time.Time
	DecidedBy string
}

// Past is a release that was active, and how that ended.
type Past struct {
	Entry
	Until   time.Time
	Ended   Ending
	EndedBy string
}

// Ending is how a release ceased to be active.
type Ending string

// The ways in which a release ceases to be active.
const (
	Replaced   Ending = "replaced"    // by a later one, from which one can roll back to it
	RolledBack Ending = "rolled_back" // to the one before it
	Retired    Ending = "retired"     // nothing took its place
)

var endings = []Ending{Replaced, RolledBack, Retired}

// ReadLock reads the lock of a folder; where there is none, nothing is pinned.
func ReadLock(dir string) (*Lock, error) {
	name := filepath.Join(dir, LockFile)
	text, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return &Lock{}, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the lock cannot be read: %w", err)
	}
	return ParseLock(text, name)
}

// ParseLock reads a lock; name is for messages. Its error is a Faults with all
// that is wrong.
func ParseLock(text []byte, name string) (*Lock, error) {
	r := &yamlReader{file: name}
	l := &Lock{}
	if body := r.document(text); body != nil {
		top := r.mapping(body, "", "format", "rule_sets?")
		if f := r.number(top["format"], "format", 0, 1<<30); top["format"] != nil && f != lockFormat {
			r.add(top["format"], "format", "is %d and this program reads %d; use the program that wrote it, or pin anew with rootward rules pin", f, lockFormat)
			return nil, r.faults
		}
		for i, n := range r.list(top["rule_sets"], "rule_sets") {
			l.Sets = append(l.Sets, r.pinned(n, fmt.Sprintf("rule_sets[%d]", i+1), l))
		}
		for i := range l.Sets {
			r.overlap(top["rule_sets"], i, l)
		}
	}
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	l.sort()
	return l, nil
}

// overlap notes that set i and another state the same layer's law of one place.
func (r *yamlReader) overlap(n ast.Node, i int, l *Lock) {
	if l.Sets[i].Active == nil {
		return
	}
	a := &l.Sets[i].Active.Release
	other := l.Overlap(a)
	r.require(other == "", n, i, "rule_sets", "is of the layer %s for %s, as is %s; only one of them may be active", a.Layer, a.Scope, other)
}

func (l *Lock) sort() {
	slices.SortFunc(l.Sets, func(a, b Pinned) int { return cmp.Compare(a.RuleSet, b.RuleSet) })
}

func (r *yamlReader) pinned(n ast.Node, where string, before *Lock) Pinned {
	v := r.mapping(n, where, "id", "active?", "past?")
	p := Pinned{RuleSet: r.line(v["id"], where+".id")}
	if before.Set(p.RuleSet) != nil {
		r.add(v["id"], where+".id", "%q is listed twice; each rule set has one entry", p.RuleSet)
	}
	if v["active"] != nil {
		values := r.mapping(v["active"], where+".active", pinKeys...)
		pin := r.pin(values, where+".active", p.RuleSet, n)
		p.Active = &pin
	}
	entries := r.list(v["past"], where+".past")
	if len(entries) > MaxPast {
		r.add(v["past"], where+".past", "has %d entries; it keeps %d", len(entries), MaxPast)
	}
	for i, entry := range entries {
		p.Past = append(p.Past, r.past(entry, fmt.Sprintf("%s.past[%d]", where, i+1), p.RuleSet))
	}
	if p.Active == nil && len(p.Past) == 0 {
		r.add(n, where, "is neither active nor was; take the entry out")
	}
	return p
}

var (
	pinKeys  = []string{"file", "version", "layer", "scope", "contract", "binary", "table", "signers?", "since", "decided_by"}
	pastKeys = append(slices.Clone(pinKeys), "until", "ended", "ended_by")
)

func (r *yamlReader) pin(v map[string]ast.Node, where, id string, n ast.Node) Entry {
	p := Entry{
		File: r.line(v["file"], where+".file"), Signers: r.texts(v["signers"], where+".signers"),
		Since: r.time(v["since"], where+".since"), DecidedBy: r.line(v["decided_by"], where+".decided_by"),
	}
	p.Release = Release{
		RuleSet: id, Version: r.text(v["version"], where+".version"), Scope: r.text(v["scope"], where+".scope"),
		Contract: r.number(v["contract"], where+".contract", 1, 999),
		Binary:   r.digest(v["binary"], where+".binary"), Table: r.digest(v["table"], where+".table"),
	}
	p.Release.Layer, _ = rules.ParseWord[rules.Layer](r.text(v["layer"], where+".layer"))
	for _, f := range p.Release.faults() {
		at, given := v[f.Where]
		if f.Where == "rule-set" {
			at, given = n, true
		}
		if given && f.Where != "contract" {
			r.add(at, where+"."+f.Where, "%s", f.Problem)
		}
	}
	if base := filepath.Base(p.File); p.File != "" && (base != p.File || base == "." || base == "..") {
		r.add(v["file"], where+".file", "%q is not the name of a file in the folder itself", clip(p.File))
	}
	return p
}

// digest gives a digest without the name of its kind, and as it stands where it
// has none, which Release.faults finds.
func (r *yamlReader) digest(n ast.Node, where string) string {
	s := r.text(n, where)
	if rest, ok := strings.CutPrefix(s, digestPrefix); ok {
		return rest
	}
	return "not sha256: " + s
}

func (r *yamlReader) past(n ast.Node, where, id string) Past {
	v := r.mapping(n, where, pastKeys...)
	p := Past{
		Entry: r.pin(v, where, id, n),
		Until: r.time(v["until"], where+".until"), EndedBy: r.line(v["ended_by"], where+".ended_by"),
		Ended: Ending(r.text(v["ended"], where+".ended")),
	}
	if v["ended"] != nil && !slices.Contains(endings, p.Ended) {
		r.add(v["ended"], where+".ended", "%q is not one of %v", clip(string(p.Ended)), endings)
	}
	return p
}

// Set gives what the lock says of a rule set, and nil where it says nothing.
func (l *Lock) Set(id string) *Pinned {
	i := slices.IndexFunc(l.Sets, func(p Pinned) bool { return p.RuleSet == id })
	if i < 0 {
		return nil
	}
	return &l.Sets[i]
}

// Active gives the pin of a rule set, and nil where none is active.
func (l *Lock) Active(id string) *Entry {
	if s := l.Set(id); s != nil {
		return s.Active
	}
	return nil
}

// Holding gives the active release with a table, and nil where there is none.
func (l *Lock) Holding(table string) *Entry {
	for i := range l.Sets {
		if e := l.Sets[i].Active; e != nil && e.Release.Table == table {
			return e
		}
	}
	return nil
}

// entries gives the active release and those that were.
func (p *Pinned) entries() []*Entry {
	var all []*Entry
	if p.Active != nil {
		all = append(all, p.Active)
	}
	for i := range p.Past {
		all = append(all, &p.Past[i].Entry)
	}
	return all
}

// Knows reports whether the version of a rule set with this very table is active
// or was.
func (l *Lock) Knows(r *Release) bool {
	s := l.Set(r.RuleSet)
	return s != nil && slices.ContainsFunc(s.entries(), func(e *Entry) bool {
		return e.Release.Version == r.Version && e.Release.Table == r.Table
	})
}

// Contradicts says what in the lock a release contradicts: the same version of a
// rule set never has other content, and while a set is active its id stands for one
// layer's law of one place. Otherwise who may publish for a district could take a
// state's law out of force by its id.
func (l *Lock) Contradicts(r *Release) error {
	s := l.Set(r.RuleSet)
	if s == nil {
		return nil
	}
	if a := s.Active; a != nil && (a.Release.Layer != r.Layer || a.Release.Scope != r.Scope) {
		return fmt.Errorf("rule set %s is the %s law of %s, which is active, and this release the %s law of %s; give it an id of its own, or retire the active one first",
			r.RuleSet, a.Release.Layer, a.Release.Scope, r.Layer, r.Scope)
	}
	for _, e := range s.entries() {
		if e.Release.Version == r.Version && e.Release.Table != r.Table {
			return fmt.Errorf("version %s of rule set %s has a table of digest %.12s, and the one pinned since %s under that version has %.12s; the same version never has other content: ask its publisher for a new version",
				r.Version, r.RuleSet, r.Table, e.Since.Format(timeForm), e.Release.Table)
		}
	}
	return nil
}
