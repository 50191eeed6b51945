package rulerelease

import (
	"fmt"
	"slices"
	"time"
)

// Activate gives the lock in which a release takes the place of the active one of
// its rule set.
func (l *Lock) Activate(entry Entry) *Lock {
	entry.Since = second(entry.Since)
	return l.with(entry.Release.RuleSet, func(s *Pinned) {
		s.end(Replaced, entry.Since, entry.DecidedBy)
		s.Active = &entry
	})
}

// Before gives the release that RollBack would bring back.
func (l *Lock) Before(id string) (*Entry, error) {
	s := l.Set(id)
	if s == nil || s.Active == nil {
		return nil, fmt.Errorf("rule set %q is not active, so that there is nothing to roll back; activate a release of it", id)
	}
	i := s.before()
	if i < 0 {
		return nil, fmt.Errorf("before release %s of rule set %q none was active; retire it, or activate another", s.Active.Release.Version, id)
	}
	return &s.Past[i].Entry, nil
}

// RollBack gives the lock in which the release that was active before takes the
// place of the active one. entry is that release with its file as it lies now, the
// time and who decided. Rolling back again goes further back.
func (l *Lock) RollBack(entry Entry) (*Lock, error) {
	id := entry.Release.RuleSet
	before, err := l.Before(id)
	if err != nil {
		return nil, err
	}
	if before.Release.Table != entry.Release.Table {
		return nil, fmt.Errorf("before the active release of rule set %q the table %.12s was active, not %.12s", id, before.Release.Table, entry.Release.Table)
	}
	entry.Since = second(entry.Since)
	return l.with(id, func(s *Pinned) {
		s.Past = slices.Delete(s.Past, s.before(), s.before()+1)
		s.Past = slices.DeleteFunc(s.Past, func(p Past) bool {
			return p.Ended == RolledBack && p.Release.Table == s.Active.Release.Table
		})
		s.end(RolledBack, entry.Since, entry.DecidedBy)
		s.Active = &entry
	}), nil
}

// Retire gives the lock in which no release of a rule set is active.
func (l *Lock) Retire(id string, now time.Time, decidedBy string) (*Lock, error) {
	if l.Active(id) == nil {
		return nil, fmt.Errorf("rule set %q is not active, so that there is nothing to retire", id)
	}
	return l.with(id, func(s *Pinned) {
		s.end(Retired, second(now), decidedBy)
		s.Active = nil
	}), nil
}

// before is the index in Past of the release that was active before; -1 if none.
func (s *Pinned) before() int {
	i := slices.IndexFunc(s.Past, func(p Past) bool { return p.Ended != RolledBack })
	if i < 0 || s.Past[i].Ended != Replaced {
		return -1
	}
	return i
}

// end moves the active release, if there is one, to the past.
func (s *Pinned) end(how Ending, at time.Time, by string) {
	if s.Active == nil {
		return
	}
	s.Past = slices.Insert(s.Past, 0, Past{Entry: *s.Active, Until: at, Ended: how, EndedBy: by})
	s.Past = s.Past[:min(len(s.Past), MaxPast)]
}

// with gives a copy of the lock in which one set is changed.
func (l *Lock) with(id string, change func(*Pinned)) *Lock {
	next := &Lock{Sets: slices.Clone(l.Sets)}
	if next.Set(id) == nil {
		next.Sets = append(next.Sets, Pinned{RuleSet: id})
		next.sort()
	}
	s := next.Set(id)
	s.Past = slices.Clone(s.Past)
	change(s)
	return next
}

// second is a time as the lock keeps it.
func second(t time.Time) time.Time { return t.UTC().Truncate(time.Second) }
