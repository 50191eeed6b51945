package inventory

import (
	"io"
	"math"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
)

// maxSites is how many sites the API takes in one stream.
const maxSites = 100_000

// site is what the rows up to now say of a site. The first row that states its
// place or its area decides; a later one that states another is at fault.
type site struct {
	id       string
	place    string
	line     int // on which the place was stated
	area     quantity.SquareMillimetres
	areaLine int // on which the area was stated; zero: not stated
	facts    [siteFacts]siteFact
	given    bool // with what the rows up to then said
}

// siteFact is a number that a site has one of. The first row that states it decides.
type siteFact struct {
	value float64
	line  int // on which it was stated; zero: not stated
}

// The numbers of siteFact.
const (
	atLatitude = iota
	atLongitude
	atElevation
	siteFacts
)

// siteFactOf says of each number which column states it, in which unit, and how far
// apart two are that are still the same: what tables round positions to, about a
// metre, and what is lost when a height is written in another unit.
var siteFactOf = [siteFacts]struct {
	id   quantityID
	unit string
	same float64
}{
	{siteLatitude, "degrees of latitude", sameDegrees},
	{siteLongitude, "degrees of longitude", sameDegrees},
	{siteElevation, "metres above sea level", 0.01},
}

// register holds a file's sites in the order in which they first appear.
type register struct {
	byID  map[string]*site
	list  []*site
	given int  // of the list, which were
	late  bool // a row said something new of a site that was given
}

// enter settles a row's site: it is learnt, agrees, or puts the row at fault.
// What else is wrong with the row does not matter, so that a pass that reads
// only the columns of sites comes to the same end. It reports false when there
// is no room for another site.
func (g *register) enter(r *row) bool {
	if r.SiteID == "" || r.Place == "" {
		return true
	}
	s, known := g.byID[r.SiteID]
	switch {
	case !known && len(g.list) == maxSites:
		return false
	case !known:
		s = g.add(r)
	case s.place != r.Place:
		r.conflict("place", r.Place, "is not %s, the place of site %q %s; a site has one place", s.place, s.id, r.where(s.line))
		return true
	}
	learnt := s.measure(r)
	learnt = s.locate(r) || learnt
	g.late = g.late || learnt && s.given
	return true
}

func (g *register) add(r *row) *site {
	// Clones, so that a site does not hold the whole line in memory.
	s := &site{id: strings.Clone(r.SiteID), place: strings.Clone(r.Place), line: r.Line}
	if g.byID == nil {
		g.byID = make(map[string]*site)
	}
	g.byID[s.id] = s
	g.list = append(g.list, s)
	return s
}

// measure reports whether the row is the first that states the area.
func (s *site) measure(r *row) bool {
	switch {
	case r.SiteAreaM2 == nil:
	case s.areaLine == 0:
		s.area, s.areaLine = r.siteArea, r.Line
		return true
	case !s.agrees(r.siteArea):
		r.conflict(r.given[siteArea].Name, "", "states %.9g square metres, not the %.9g of site %q %s; a site has one area",
			r.siteArea.SquareMetres(), s.area.SquareMetres(), s.id, r.where(s.areaLine))
	}
	return false
}

// locate reports whether the row is the first that states one of the facts.
func (s *site) locate(r *row) (learnt bool) {
	for i, v := range r.siteFacts {
		own, of := &s.facts[i], &siteFactOf[i]
		switch {
		case v == nil:
		case own.line == 0:
			*own, learnt = siteFact{*v, r.Line}, true
		case math.Abs(own.value-*v) > of.same:
			r.conflict(r.given[of.id].Name, "", "states %.9g %s, not the %.9g of site %q %s; a site has one",
				*v, of.unit, own.value, s.id, r.where(own.line))
		}
	}
	return learnt
}

// agrees allows for what is lost when the same area is written in another unit.
func (s *site) agrees(area quantity.SquareMillimetres) bool {
	const millionth = 1e-6
	return math.Abs(float64(s.area-area)) <= millionth*float64(s.area)
}

func (r *row) conflict(column, value, format string, args ...any) {
	r.fault(r.Line, column, value, format, args...)
	r.siteFaults = append(r.siteFaults, r.Faults[len(r.Faults)-1])
}

// maxSiteFaults keeps memory flat for a file whose every row is in conflict.
const maxSiteFaults = 1_000

// Survey is what a first pass over a file finds.
type Survey struct {
	Sites []*treatmentv1.Site // in the order in which they appear
	// Conflicts are those between rows that name the same site: a later row with
	// another place or another area than the first that states it; at most 1,000.
	Conflicts []Fault
	Rows      int64
}

// SurveyOf makes a first pass over a file. A Reader comes to the same conflicts by
// itself and rejects those rows, and those that repeat an id as well: they state
// their site all the same. Rows that do not state an area leave it to those that
// do.
//
// More than 100,000 sites are an error.
func SurveyOf(path string) (*Survey, error) {
	r, err := Open(path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	r.source.onlySites()
	pass, learn := r.passKnown()
	s := &Survey{}
	for {
		r.rows += pass()
		row, err := r.next()
		if err == io.EOF {
			s.Sites, s.Rows = messagesOf(r.sites.list), r.rows
			return s, nil
		}
		if err != nil {
			return nil, err
		}
		learn(row)
		s.Conflicts = append(s.Conflicts, row.siteFaults[:min(len(row.siteFaults), maxSiteFaults-len(s.Conflicts))]...)
	}
}

// Sites gives the sites of SurveyOf and their conflicts.
func Sites(path string) ([]*treatmentv1.Site, []Fault, error) {
	s, err := SurveyOf(path)
	if err != nil {
		return nil, nil, err
	}
	return s.Sites, s.Conflicts, nil
}

// passKnown gives what passes over rows that say nothing new of a site, and what it
// learns from the others.
func (r *Reader) passKnown() (pass func() int64, learn func(*row)) {
	s, ok := r.source.(*csvSource)
	if !ok {
		return func() int64 { return 0 }, func(*row) {}
	}
	lines := newSiteLines(s.columns)
	return func() int64 { return lines.pass(s.lines) }, lines.learn
}

// give gives the sites that were not given before.
func (g *register) give() []*treatmentv1.Site {
	fresh := g.list[g.given:]
	for _, s := range fresh {
		s.given = true
	}
	g.given = len(g.list)
	return messagesOf(fresh)
}

// Sites gives the sites of the rows up to now, with all that these say of them, in the
// order in which they appear. It reports whether a block gave one of them with less.
func (r *Reader) Sites() (all []*treatmentv1.Site, late bool) {
	return messagesOf(r.sites.list), r.sites.late
}

func messagesOf(sites []*site) []*treatmentv1.Site {
	list := make([]*treatmentv1.Site, len(sites))
	for i, s := range sites {
		list[i] = &treatmentv1.Site{SiteId: s.id, Place: s.place}
		if s.areaLine > 0 {
			list[i].AreaM2 = new(s.area.SquareMetres())
		}
		list[i].LatitudeDeg, list[i].LongitudeDeg = s.facts[atLatitude].stated(), s.facts[atLongitude].stated()
		list[i].ElevationM = s.facts[atElevation].stated()
	}
	return list
}

func (f *siteFact) stated() *float64 {
	if f.line == 0 {
		return nil
	}
	return &f.value
}
