package rulesdk

import (
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Change alters a worked case.
type Change func(*rules.Case)

// Case is a worked case that differs from a base case by a few changes, so that a
// reader sees what decides it. The base is left as it was.
func Case(base rules.Case, name string, changes ...Change) rules.Case {
	c := base
	c.Name = name
	c.By = slices.Clone(base.By)
	for _, change := range changes {
		change(&c)
	}
	return c
}

// FoliarSpray is a case to start from: a certified applicator sprays the leaves of a
// root sucker in a forest from a backpack, far from all water and from every place that
// rules protect. Nothing it states is law of any place.
func FoliarSpray(year int, month time.Month, day int) rules.Case {
	c := rules.Case{
		Name: "foliar spray far from water",
		On:   civil.Of(year, month, day),
		Treatment: rules.Treatment{
			Species: "Ailanthus altissima", Suckering: rules.SuckeringStrong,
			Method: rules.LowVolumeFoliar, Equipment: rules.Backpack,
			Active: "glyphosate", Formulation: rules.WaterSalt, SoilActivity: rules.SoilNone,
			AquaticLabel: rules.AquaticNotRegistered, RestrictedUse: rules.GeneralUse, Toxicity: rules.CategoryIII,
			Droplet: rules.DropletMedium, ReleaseHeight: 4 * quantity.Foot,
			LandUse: rules.Forest, Standing: rules.Certified,
		},
		Site: rules.Surroundings{Form: rules.RootSucker},
		Want: rules.Conditional,
	}
	c.Site.Water.SetOthers(quantity.Mile)
	c.Site.Places.SetOthers(quantity.Mile)
	return c
}

// Gives states the decision that is expected, and rows that must decide it.
func Gives(want rules.Decision, by ...string) Change {
	return func(c *rules.Case) { c.Want, c.By = want, by }
}

// Forbidden is Gives(rules.Prohibited, by...).
func Forbidden(by ...string) Change { return Gives(rules.Prohibited, by...) }

// On sets the day.
func On(year int, month time.Month, day int) Change {
	return func(c *rules.Case) { c.On = civil.Of(year, month, day) }
}

// With alters the treatment.
func With(change func(*rules.Treatment)) Change {
	return func(c *rules.Case) { change(&c.Treatment) }
}

// Site alters what is known of the stem.
func Site(change func(*rules.Surroundings)) Change {
	return func(c *rules.Case) { change(&c.Site) }
}

// Water states a measured distance to a class of water.
func Water(class rules.WaterClass, distance quantity.Micrometres, from rules.DistanceOrigin) Change {
	return func(c *rules.Case) {
		c.Site.Water.Set(class, rules.WaterDistance{Distance: distance, Origin: from})
	}
}

// Place states a measured distance to a class of places.
func Place(class rules.PlaceClass, distance quantity.Micrometres) Change {
	return func(c *rules.Case) { c.Site.Places.Set(class, rules.PlaceDistance{Distance: distance}) }
}

// Measure states a measure, in its own unit.
func Measure(of rules.Measure, value int64) Change {
	return func(c *rules.Case) { c.Site.Measures.Set(of, value) }
}

// AtDistance gives the pair of cases at the limit of a buffer: one micrometre
// nearer the row forbids, at the limit the base's decision stands.
func AtDistance(base rules.Case, row string, class rules.WaterClass, limit quantity.Micrometres, from rules.DistanceOrigin) []rules.Case {
	name := row + ", " + class.String()
	return []rules.Case{
		Case(base, name+", just inside", Water(class, limit-1, from), Forbidden(row)),
		Case(base, name+", at the limit", Water(class, limit, from)),
	}
}

// AtSetback gives the pair of cases at the limit of a setback, as AtDistance does for
// a buffer.
func AtSetback(base rules.Case, row string, class rules.PlaceClass, limit quantity.Micrometres) []rules.Case {
	name := row + ", " + class.String()
	return []rules.Case{
		Case(base, name+", just inside", Place(class, limit-1), Forbidden(row)),
		Case(base, name+", at the limit", Place(class, limit)),
	}
}

// AtEdges gives the cases at the ends of a window that opens in a year: on the day
// before it opens and the day after it closes the row forbids, on its first and
// last day the base's decision stands.
func AtEdges(base rules.Case, row string, w civil.Window, year int) []rules.Case {
	cases := AcrossEdges(base, row, w, year)
	for _, outside := range []int{0, 3} {
		cases[outside] = Case(cases[outside], cases[outside].Name, Forbidden(row))
	}
	return cases
}

// AcrossEdges gives the days of AtEdges with the base's decision on all of them: for
// a row that names a season, or that sets a condition in a part of the year.
func AcrossEdges(base rules.Case, row string, w civil.Window, year int) []rules.Case {
	first := civil.Of(year, w.From.Month, w.From.Day)
	last := civil.Of(year, w.To.Month, w.To.Day)
	if last < first {
		last = civil.Of(year+1, w.To.Month, w.To.Day)
	}
	at := func(name string, d civil.Date) rules.Case {
		return Case(base, row+", "+name, func(c *rules.Case) { c.On = d })
	}
	return []rules.Case{
		at("the day before it opens", first.AddDays(-1)),
		at("first day", first),
		at("last day", last),
		at("the day after it closes", last.AddDays(1)),
	}
}
