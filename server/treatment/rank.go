package treatment

import (
	"cmp"
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// efficacy classes what is published of a treatment, the best first. Figures
// within a class do not outrank selectivity: trials cannot tell them apart.
type efficacy uint8

const (
	effective   efficacy = iota + 1 // second-year control from 85 %, or the first choice of published guidance
	unpublished                     // nothing is published for the species; common practice
	partial                         // second-year control of 50 to 85 %
	failing                         // second-year control below 50 %
)

const (
	effectiveFrom = 850_000 // of second-year control (common practice, no source)
	failingBelow  = 500_000 // of second-year control (common practice, no source)
)

// rank is why one option comes before another: the law first, then published
// efficacy, then selectivity, then cost. What no crew could do at that density
// comes after all that is as lawful.
type rank struct {
	legality    rules.Decision
	uneconomic  bool
	efficacy    efficacy
	selectivity uint8 // what it could hit beside the stem, less is better
	cost        int64
	evidence    *Evidence
}

func (r *rank) compare(s *rank) int {
	return cmp.Or(
		cmp.Compare(r.legality, s.legality),
		compareBool(r.uneconomic, s.uneconomic),
		cmp.Compare(r.efficacy, s.efficacy),
		cmp.Compare(r.selectivity, s.selectivity),
		cmp.Compare(r.cost, s.cost),
	)
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// judge gives an option its rank for a stem.
func (o *option) rank(q *question, legality rules.Decision) rank {
	r := rank{legality: legality, cost: o.cost, uneconomic: o.method.fit(&q.traits).Has(TooDense), selectivity: o.selectivity(q)}
	r.evidence = o.evidenceFor(q)
	r.efficacy = r.evidence.class()
	return r
}

// evidenceFor gives the evidence that speaks least well of the option: a trial in
// which it failed must not be outweighed by guidance. Where the season is not
// known, evidence of every season counts.
func (o *option) evidenceFor(q *question) *Evidence {
	var worst *Evidence
	for _, e := range o.evidence {
		if e.covers(&q.traits) && (worst == nil || e.class() > worst.class()) {
			worst = e
		}
	}
	return worst
}

func (e *Evidence) class() efficacy {
	switch {
	case e == nil:
		return unpublished
	case e.Guidance || e.Control >= effectiveFrom:
		return effective
	case e.Control < failingBelow:
		return failing
	}
	return partial
}

// selectivity counts what a treatment could hit beside the stem.
func (o *option) selectivity(q *question) uint8 {
	var score uint8
	sprayed := o.method.id() == rules.LowVolumeFoliar || o.method.id() == rules.HighVolumeFoliar
	if sprayed && q.desirable != rules.DesirableNone {
		score++
	}
	if o.method.id() == rules.HighVolumeFoliar && !q.dense {
		score++
	}
	if f := o.formulation; f != nil && f.SoilActivity == rules.SoilStrong {
		score += 2
	}
	return score
}

// basis says what a rank's efficacy rests on.
func (r *rank) basis() string {
	switch e := r.evidence; {
	case e == nil:
		return "no published figure for this species; common practice"
	case e.Guidance:
		return "named for this by published guidance (" + e.Source + ")"
	default:
		return fmt.Sprintf("%.3g %% crown reduction in the second year (%s)", quantity.PerMillion(e.Control).Percent(), e.Source)
	}
}

var selectivityWords = [...]string{"reaches little beside the stem", "could reach neighbours", "roots of neighbours take it up", "could reach neighbours, and their roots take it up"}

// words states the rank for people.
func (r *rank) words() string {
	return fmt.Sprintf("%s; %s; %s; for ranking alone, no price of today: $%.3f a stem in dollars of 2000",
		lawWords[r.legality], r.basis(), selectivityWords[min(int(r.selectivity), len(selectivityWords)-1)], float64(r.cost)/1e4)
}

var lawWords = [...]string{"lawful", "lawful under the conditions listed", "not decided by law", "forbidden"}
