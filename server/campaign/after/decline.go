package after

import (
	"cmp"
	"math"
	"slices"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Estimate is a number that was counted, or estimated between two others. The zero
// Estimate is not known.
type Estimate struct {
	Value, Low, High float64
	Known            bool
}

// Counted is a number without any doubt.
func Counted(v float64) Estimate { return Estimate{Value: v, Low: v, High: v, Known: true} }

func (e Estimate) valid() bool {
	return e.Known && e.Low >= 0 && e.Low <= e.Value && e.Value <= e.High && !math.IsInf(e.High, 1)
}

// times gives the estimate as a part of a number.
func (e Estimate) times(f float64) Estimate {
	return Estimate{e.Value * f, e.Low * f, e.High * f, e.Known}
}

// Measured are stems alike.
type Measured struct {
	Diameter quantity.Micrometres // 0: not known
	Stems    int64                // 0: one
}

// BasalArea is the sum of the stems' cross-sections at breast height in square feet,
// and not known if the diameter of one is not. That of no stem is zero.
func BasalArea(stems []Measured) Estimate {
	sum := 0.0
	for _, s := range stems {
		if s.Diameter <= 0 || s.Stems < 0 {
			return Estimate{}
		}
		sum += quantity.BasalAreaSquareFeet(s.Diameter) * float64(max(1, s.Stems))
	}
	return Counted(sum)
}

// Observation is what was seen alive on a day, by a survey or at a visit.
type Observation struct {
	ID        string
	On        civil.Date
	Stems     Estimate
	BasalArea Estimate // in square feet
	// Complete is whether the whole site was counted, as a survey does, or a visit that
	// looked enough. What another saw is at least there.
	Complete bool
}

// Control is a published efficacy of one way of treatment, with the part of the stems
// that it was done to.
type Control struct {
	Part      quantity.PerMillion // of the stems alive before the round
	Low, High quantity.PerMillion // of what was treated, gone; the same where one figure is published
	Source    string              // empty: nothing is published, and nothing is expected
}

// Round is one round of treatment. Stems that no control covers were not treated.
type Round struct {
	From, Until civil.Date // days of its first and last application
	Controls    []Control
}

// Verdict is what was seen against what was expected.
type Verdict uint8

// Verdicts.
const (
	NotJudged Verdict = iota + 1 // not known: see Why
	AsExpected
	Worse
)

var verdictWords = [...]string{"", "not known", "as expected", "worse than expected"}

// String gives the verdict in words.
func (v Verdict) String() string { return verdictWords[v] }

// Point is one place of the decline: an observation, or a growing season of which there
// is none.
type Point struct {
	Observation
	Gap GrowingSeason // of a gap; none: it is an observation
	// Stems and basal area in percent of the first survey's.
	StemsPercent, AreaPercent Estimate
	// Expected is the least and the most stems expected, by the rounds before; not known
	// before the first.
	Expected Estimate
	Verdict  Verdict
	Why      []string // why it is not known, or what to ask
}

// IsGap reports whether nobody looked in a growing season.
func (p *Point) IsGap() bool { return p.Gap.From.Known() }

// Questions are what to ask where more is left than expected (judgement from several
// sources, and common practice).
func Questions() []string {
	return []string{
		"Were stems missed?",
		"Was it the right season, when sugars move down, and not drought or leaf fall?",
		"Were mix, dose and coverage as prescribed, and the bark dry?",
		"Did rain come before the product was rainfast?",
		"Was anything cut or mown within the wait?",
		"Is the same ground counted, and are these suckers of roots next door?",
		"Did the same product fail before? Ask about resistance, and change the active ingredient.",
	}
}

// Decline lays out what was seen, by day, beside what published efficacy lets expect.
// The first observation that counted the whole site is 100 percent. Each round is held
// against the last count before it, once a growing season has begun after it. Seasons
// without an observation are gaps; nothing is filled in. Efficacy is published as the
// crowns of treated stems in trials; it says nothing of new suckers, so that "as
// expected" is no more than that.
func Decline(seen []Observation, rounds []Round, leaf civil.Window, on civil.Date) []Point {
	c := course{leaf: leaf, rounds: slices.Clone(rounds)}
	c.seen = slices.DeleteFunc(slices.Clone(seen), func(o Observation) bool { return !o.On.Known() || o.On > on })
	slices.SortFunc(c.seen, func(a, b Observation) int { return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.ID, b.ID)) })
	slices.SortStableFunc(c.rounds, func(a, b Round) int { return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.Until, b.Until)) })
	first := slices.IndexFunc(c.seen, counted)
	list := c.gaps(on)
	for i := range c.seen {
		p := Point{Observation: c.seen[i]}
		if first >= 0 && i >= first {
			p.StemsPercent = percent(p.Stems, c.seen[first].Stems)
			p.AreaPercent = percent(p.BasalArea, c.seen[first].BasalArea)
		}
		c.judge(&p)
		list = append(list, p)
	}
	slices.SortStableFunc(list, func(a, b Point) int { return cmp.Compare(a.day(), b.day()) })
	return list
}

// day is where a point stands in time; a gap stands at the end of its season.
func (p *Point) day() civil.Date {
	if p.IsGap() {
		return p.Gap.Until
	}
	return p.On
}

func counted(o Observation) bool { return o.Complete && o.Stems.valid() }

func percent(e, first Estimate) Estimate {
	if !e.valid() || !first.valid() || first.Value <= 0 {
		return Estimate{}
	}
	return e.times(100 / first.Value)
}
