package treatment

import (
	"maps"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// For makes a planner for another site of the same place and day. The two share
// what does not depend on the site, and so are for the same goroutine.
func (p *Planner) For(site *Site) *Planner {
	q := *p
	q.site, q.tallies, q.room, q.aside = site, nil, room{}, nil
	q.kinds = p.grants.of(p.governing, site.Granted)
	return &q
}

// Kinds is how many sets of options planners keep that were made from this one, and itself.
func (p *Planner) Kinds() int { return len(p.grants.filled) }

// Rest drops what those planners keep of the last stem, and of grants without options.
func (p *Planner) Rest() {
	p.grants.rest()
	if w := p.work; w.asked.stem != nil {
		w.stem, w.asked, w.site = Stem{}, question{}, rules.Surroundings{}
	}
}

// Use is acid equivalent of one active ingredient on the site.
type Use struct {
	Active  string
	Limit   quantity.ArealRate
	Source  string
	Applied quantity.MicrogramsAE // before
	Left    quantity.MicrogramsAE // by Limit, after Applied
	Used    quantity.MicrogramsAE // prescribed now
	Wanted  quantity.MicrogramsAE // by all stems that it is the best choice for
	Seasons int64                 // over which the site is split; 1 if all fits
	Share   Share                 // this season's, where it is split
}

// Uses lists what the planner has counted, by active ingredient. Sums that are aside must
// have been gathered.
func (p *Planner) Uses() []Use {
	list := p.sortedTallies()
	uses := make([]Use, len(list))
	for i, t := range list {
		uses[i] = p.use(t)
	}
	return uses
}

func (p *Planner) use(t *tally) Use {
	u := Use{
		Active: t.active, Limit: t.limit, Source: t.source, Applied: p.site.Applied[t.active],
		Left: p.site.left(t.active, t.limit), Used: t.used, Wanted: t.wanted, Seasons: 1,
	}
	if t.wanted > u.Left {
		yearly := max(1, t.limit.On(p.site.Area))
		u.Share = t.share(u.Left)
		u.Seasons = 1 + int64((t.wanted-max(0, u.Left)+yearly-1)/yearly)
	}
	return u
}

// PlanAll plans all stems of a site. Where they pass an annual maximum the site is
// split over seasons, the same way whatever the order of the stems.
func PlanAll(c *Catalogue, g *rules.Governing, site Site, settings *Settings, stems []Stem) ([]Plan, *Planner) {
	return NewPlanner(c, g, &site, settings).PlanAll(site, stems)
}

// PlanAll plans all stems of a site of the planner's place and day, as the function does.
// The planner itself counts nothing of it; the one that it gives does.
func (p *Planner) PlanAll(site Site, stems []Stem) ([]Plan, *Planner) {
	plans, q := p.planOnce(&site, stems)
	shares := maps.Clone(site.Shares)
	split := false
	for _, t := range q.tallies {
		u := q.use(t)
		if _, given := shares[u.Active]; u.Seasons > 1 && !given {
			if shares == nil {
				shares = map[string]Share{}
			}
			shares[u.Active], split = u.Share, true
		}
	}
	if !split {
		return plans, q
	}
	site.Shares = shares
	return p.planOnce(&site, stems)
}

func (p *Planner) planOnce(site *Site, stems []Stem) ([]Plan, *Planner) {
	q := p.For(site)
	plans := make([]Plan, len(stems))
	for i := range stems {
		plans[i] = q.Plan(&stems[i])
	}
	return plans, q
}
