package rules

import "slices"

// exception is one of a row's exceptions on which the surroundings have a say.
type exception struct {
	selector *Selector
	match    match // by the treatment alone, not matchNo
	next     *exception
}

// leaves is what an exception leaves of the row that it is made from.
func (e *exception) leaves(site *Surroundings) match {
	return matchYes - min(e.match, e.selector.site(site))
}

// except narrows a row's exceptions. It gives what they leave of the match as far
// as the treatment alone tells, and those on which the surroundings have a say.
func (r *Row) except(m match, t *Treatment) (match, *exception) {
	var open *exception
	for i := range r.Unless {
		s := &r.Unless[i]
		switch fit := s.narrow(t); {
		case fit == matchNo:
		case s.alwaysSite():
			m = min(m, matchYes-fit)
		default:
			open = &exception{selector: s, match: fit, next: open}
		}
	}
	return m, open
}

// missing names the parts of the row's selectors that leave open whether it applies.
func (r *Row) missing(t *Treatment, site *Surroundings) []string {
	names := r.When.missing(t, site)
	for i := range r.Unless {
		s := &r.Unless[i]
		if min(s.narrow(t), s.site(site)) != matchMaybe {
			continue
		}
		for _, name := range s.missing(t, site) {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	return names
}

// IsSeasonal reports whether the row forbids in a part of the year alone; what only
// asks for something does so all year, with its season in its text.
func (r *Row) IsSeasonal() bool {
	if !r.During.Valid() {
		return false
	}
	switch e := r.Effect.(type) {
	case Buffer:
		return e.Activity != MixAndLoad
	case Prohibit, Setback, RequireStanding, Window, Computed:
		return true
	}
	return false
}

// Text states what the row does, with the part of the year in which it does and its
// exceptions, in one clause for people.
func (r *Row) Text() string {
	text := r.Effect.Text()
	if r.During.Valid() {
		text += ", from " + r.During.String()
	}
	for i := range r.Unless {
		text += "; not for " + r.Unless[i].Text()
	}
	return text
}
