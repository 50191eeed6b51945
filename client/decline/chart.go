package decline

import (
	"math"
	"strconv"

	"example.org/rootward/client/measure"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Chart is what is drawn of a decline.
type Chart struct {
	Title   string
	Units   measure.System
	Points  []Point      // by day
	Treated []civil.Date // first day of each round of treatment
}

// Point is one count, or a growing season without one.
type Point struct {
	On        civil.Date // of a season without a count: its last day
	Gap       string     // words for such a season, as "2028"; empty: it is a count
	Stems     *float64   // nil: not counted
	BasalArea *float64   // in square feet; nil: not known
	Expected  *Band      // of stems; nil: nothing is expected
	Partial   bool       // not all of the site was counted: that many at least
	Verdict   string     // a few words: seen against expected
}

// Band is the least and the most that is expected.
type Band struct{ Low, High float64 }

// series is one of the two numbers of a chart.
type series struct {
	name, unit string
	value      func(*Point) *float64
	expected   func(*Point) *Band
}

func (c *Chart) series() []series {
	area := series{"Basal area", "sq ft", func(p *Point) *float64 { return p.BasalArea }, func(*Point) *Band { return nil }}
	if c.Units == measure.Metric {
		area.unit = "m²"
		area.value = func(p *Point) *float64 {
			if p.BasalArea == nil {
				return nil
			}
			m := quantity.SquareFeet(1).SquareMetres() * *p.BasalArea
			return &m
		}
	}
	stems := series{"Stems alive", "count", func(p *Point) *float64 { return p.Stems }, func(p *Point) *Band { return p.Expected }}
	return []series{stems, area}
}

// shown is whether a number is one that can be drawn.
func shown(v *float64) bool { return v != nil && *v >= 0 && !math.IsInf(*v, 0) }

func shownBand(b *Band) bool {
	return b != nil && b.Low >= 0 && b.Low <= b.High && !math.IsInf(b.High, 0)
}

// most is the greatest number of a series, at least one.
func (c *Chart) most(s series) float64 {
	most := 1.0
	for i := range c.Points {
		p := &c.Points[i]
		if v := s.value(p); shown(v) {
			most = max(most, *v)
		}
		if b := s.expected(p); shownBand(b) {
			most = max(most, b.High)
		}
	}
	return most
}

// first is the first full count of a series: 100 percent; nil: there is none.
func (c *Chart) first(s series) *Point {
	for i := range c.Points {
		if v := s.value(&c.Points[i]); shown(v) && !c.Points[i].Partial {
			return &c.Points[i]
		}
	}
	return nil
}

// number writes a number with three digits that count, and whole ones whole.
func number(v float64) string {
	if v >= 100 || v == math.Trunc(v) {
		return strconv.FormatFloat(math.Round(v), 'f', 0, 64)
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

// step is the least of 1, 2 and 5 times a power of ten that parts a length into at most
// so many.
func step(length float64, parts int) float64 {
	least := length / float64(parts)
	power := math.Pow10(int(math.Floor(math.Log10(least))))
	for _, n := range []float64{1, 2, 5} {
		if n*power >= least*(1-1e-9) {
			return n * power
		}
	}
	return 10 * power
}

// down is the greatest of 1, 2 and 5 times a power of ten that is no more than v.
func down(v float64) float64 {
	power := math.Pow10(int(math.Floor(math.Log10(v))))
	for _, n := range []float64{5, 2} {
		if n*power <= v {
			return n * power
		}
	}
	return power
}
