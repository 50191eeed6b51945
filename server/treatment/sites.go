package treatment

// For makes a planner for another site of the same place and day. The two share
// what does not depend on the site, and so are for the same goroutine.
func (p *Planner) For(site *Site) *Planner {
	q := *p
	q.site, q.tallies, q.states = site, map[string]*tally{}, nil
	return &q
}
