package rulecoverage

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// limit is where a row begins to say something else: two neighbouring values of one
// fact, between which nothing lies.
type limit struct {
	name       string
	one, other side
}

// side is a value of a fact.
type side struct {
	says string // the fact and the value, for people
	at   func(*rules.Case) bool
	put  func(*rules.Case)
}

func limitsOfRow(r *rules.Row, m *rules.Manifest) []limit {
	limits := effectLimits(r, m)
	for _, e := range slices.Concat([]rules.Selector{r.When}, r.Unless) {
		for _, held := range e.Ranges {
			limits = append(limits, rangeLimits(held, e.Ranges)...)
		}
	}
	if r.IsSeasonal() {
		limits = append(limits, windowLimits("the part of the year in which it applies", r.During, r, m)...)
	}
	return append(limits, validityLimits(r, m)...)
}

func effectLimits(r *rules.Row, m *rules.Manifest) []limit {
	switch e := r.Effect.(type) {
	case rules.Buffer:
		return bufferLimits(e)
	case rules.Setback:
		return setbackLimits(e)
	case rules.Window:
		return windowLimits("its window", e.Open, r, m)
	case rules.InSeason:
		return windowLimits("its season", e.During, r, m)
	case rules.RequireStanding:
		if e.AtLeast > rules.Unlicensed {
			return []limit{{"the standing it asks for", standing(e.AtLeast - 1), standing(e.AtLeast)}}
		}
	}
	return nil
}

// bufferLimits are the distances of a buffer.
func bufferLimits(b rules.Buffer) []limit {
	classes := b.Water.Values()
	if len(classes) == 0 || b.Activity == rules.MixAndLoad {
		return nil
	}
	limits := []limit{anyWater("next to the limit of its distance", classes, b.Distance, b.From)}
	if b.Reduction.Stated() {
		limits = append(limits, anyWater("next to the limit of its reduced distance, where that was granted", classes, b.Reduction.Distance, b.From))
	}
	if b.Allowance.Stated() {
		limits = append(limits, anyWater("next to its distance and its allowance together", classes, b.Distance+b.Allowance.Distance, rules.WaterEdge))
	}
	return limits
}

// anyWater is a limit that a case with any of the waters shows.
func anyWater(name string, classes []rules.WaterClass, d quantity.Micrometres, from rules.DistanceOrigin) limit {
	put := func(v quantity.Micrometres) side {
		return side{
			says: fmt.Sprintf("%d µm to %s, counted from the %s", v, words(classes), spaced(from.String())),
			at: func(c *rules.Case) bool {
				return slices.ContainsFunc(classes, func(w rules.WaterClass) bool {
					got, known := c.Site.Water.Get(w)
					return known && got.Distance == v && got.Origin == from && !got.AtLeast
				})
			},
			put: func(c *rules.Case) { putWater(c, nearest(c, classes), v, from) },
		}
	}
	return limit{name, put(d - 1), put(d)}
}

func putWater(c *rules.Case, class rules.WaterClass, v quantity.Micrometres, from rules.DistanceOrigin) {
	got, _ := c.Site.Water.Get(class)
	got.Distance, got.Origin, got.AtLeast = v, from, false
	c.Site.Water.Set(class, got)
}

// nearest is the water of those that the case states a distance to; the first,
// where it states none.
func nearest(c *rules.Case, classes []rules.WaterClass) rules.WaterClass {
	for _, w := range classes {
		if got, known := c.Site.Water.Get(w); known && !got.AtLeast {
			return w
		}
	}
	return classes[0]
}

func setbackLimits(s rules.Setback) []limit {
	classes := s.Places.Values()
	if len(classes) == 0 {
		return nil
	}
	put := func(v quantity.Micrometres) side {
		return side{
			says: fmt.Sprintf("%d µm to %s", v, words(classes)),
			at: func(c *rules.Case) bool {
				return slices.ContainsFunc(classes, func(p rules.PlaceClass) bool {
					got, known := c.Site.Places.Get(p)
					return known && got.Distance == v && !got.AtLeast
				})
			},
			put: func(c *rules.Case) { c.Site.Places.Set(nearestPlace(c, classes), rules.PlaceDistance{Distance: v}) },
		}
	}
	return []limit{{"next to the limit of its distance", put(s.Distance - 1), put(s.Distance)}}
}

func nearestPlace(c *rules.Case, classes []rules.PlaceClass) rules.PlaceClass {
	for _, p := range classes {
		if got, known := c.Site.Places.Get(p); known && !got.AtLeast {
			return p
		}
	}
	return classes[0]
}

// rangeLimits are the ends of a range, the last value in it and the first beyond,
// where no other range of the selector is narrower there.
func rangeLimits(r rules.Range, all []rules.Range) []limit {
	var limits []limit
	end := func(inside, step int64) {
		narrower := slices.ContainsFunc(all, func(o rules.Range) bool { return o.Of == r.Of && !o.Holds(inside) })
		if outside := inside + step; !narrower && min(inside, outside) >= lowest(r.Of) {
			limits = append(limits, limit{"at an end of the range " + r.String(), measured(r.Of, inside), measured(r.Of, outside)})
		}
	}
	if r.Min != math.MinInt64 {
		end(r.Min+open(r.MinOpen), -1)
	}
	if r.Max != math.MaxInt64 {
		end(r.Max-open(r.MaxOpen), 1)
	}
	return limits
}

func open(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// lowest is the least value that a measure takes. A measure of the treatment is not
// known while it is zero.
func lowest(q rules.Measure) int64 {
	if _, ok := treatmentMeasures[q]; ok {
		return 1
	}
	return 0
}

// treatmentMeasures are the measures that the treatment tells, and not the site.
var treatmentMeasures = map[rules.Measure]func(*rules.Treatment) *int64{
	rules.ReleaseHeight: func(t *rules.Treatment) *int64 { return (*int64)(&t.ReleaseHeight) },
	rules.Carrier:       func(t *rules.Treatment) *int64 { return &t.CarrierMlPerHa },
	rules.Dose:          func(t *rules.Treatment) *int64 { return &t.DosePermille },
}

func measured(q rules.Measure, v int64) side {
	says := fmt.Sprintf("%s %d", q, v)
	if of, ok := treatmentMeasures[q]; ok {
		return side{
			says: says,
			at:   func(c *rules.Case) bool { return *of(&c.Treatment) == v },
			put:  func(c *rules.Case) { *of(&c.Treatment) = v },
		}
	}
	return side{
		says: says,
		at: func(c *rules.Case) bool {
			got, known := c.Site.Measures.Get(q)
			return known && got == v
		},
		put: func(c *rules.Case) { c.Site.Measures.Set(q, v) },
	}
}

func standing(s rules.Standing) side {
	return side{
		says: "an applicator who is " + s.String(),
		at:   func(c *rules.Case) bool { return c.Treatment.Standing == s },
		put:  func(c *rules.Case) { c.Treatment.Standing = s },
	}
}

// words lists classes: "a lake or wetland".
func words[V fmt.Stringer](classes []V) string {
	names := make([]string, len(classes))
	for i, c := range classes {
		names[i] = spaced(c.String())
	}
	return strings.Join(names, " or ")
}

func spaced(word string) string { return strings.ReplaceAll(word, "_", " ") }

// onDay is a side that lies on a date.
func onDay(d civil.Date) func(*rules.Case) { return func(c *rules.Case) { c.On = d } }
