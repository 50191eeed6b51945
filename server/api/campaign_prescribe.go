package api

import (
	"context"
	"maps"
	"math"
	"slices"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
)

// amounts are acid equivalent by active ingredient.
type amounts map[string]quantity.MicrogramsAE

func (a amounts) add(more amounts) {
	for active, ae := range more {
		a[active] += ae
	}
}

// roundedUp is an amount that is held against a maximum: it is never understated.
func roundedUp(grams float64) quantity.MicrogramsAE {
	return quantity.MicrogramsAE(math.Ceil(grams * float64(quantity.GramAE)))
}

// openings prescribes rows of a site each on the first day on which it can be done.
type openings struct {
	*Campaign
	kept    *campaignv1.Site
	with    *treatmentv1.Settings
	from    civil.Date
	applied func(year int) (amounts, string) // and what is not known of them

	purchases []*treatmentv1.Purchase // of all that was prescribed
	sets      []*rules.Set            // that governed
}

// opened is a row with its answer on a day.
type opened struct {
	on     civil.Date
	answer *treatmentv1.Prescription
	words  *treatmentv1.Explanation // nil for a row that cannot be read
}

func (o *opened) prescribed() bool {
	return o.answer.GetOutcome() == treatmentv1.Outcome_OUTCOME_PRESCRIBED
}

// daysAhead is how far openings are looked for: a year, and the day a year on.
const daysAhead = 366

// prescribe gives each row its answer: that of the first day, or where it is deferred,
// that of the day on which it opens. What is prescribed on one day is held against the
// maximum of its year on the next.
func (o *openings) prescribe(ctx context.Context, stems []*treatmentv1.Stem) []opened {
	rows := make([]opened, len(stems))
	waiting := make([]int, len(stems))
	for i := range waiting {
		waiting[i] = i
	}
	planned := map[int]amounts{}
	for day := o.from; len(waiting) > 0 && day <= o.from.AddDays(daysAhead); {
		year := yearOf(day)
		if planned[year] == nil {
			planned[year] = amounts{}
		}
		some := make([]*treatmentv1.Stem, len(waiting))
		for i, at := range waiting {
			some[i] = stems[at]
		}
		answer := o.on(ctx, day, planned[year], some)
		next, later := civil.Date(math.MaxInt32), []int(nil)
		for i, at := range waiting {
			row := &rows[at]
			*row = opened{on: day, answer: answer.GetPrescriptions()[i]}
			if e := row.answer.Explanation; e != nil {
				row.words = answer.GetExplanations()[*e]
			}
			if row.prescribed() {
				planned[year].add(amounts{row.words.GetChoice().GetActive(): roundedUp(row.answer.GetDose().GetAeG())})
			} else if from := row.waitsFor(); from > day {
				next, later = min(next, from), append(later, at)
			}
		}
		day, waiting = next, later
	}
	return rows
}

// waitsFor is the day on which a deferred row opens, no date for any other.
func (o *opened) waitsFor() civil.Date {
	from, err := rulewire.DecodeDate(o.words.GetDates().GetTreatFrom())
	if o.answer.GetOutcome() != treatmentv1.Outcome_OUTCOME_DEFERRED || err != nil {
		return civil.Date(0)
	}
	return from
}

// on answers rows on a day. Where the amounts of the year are not known, nothing is
// prescribed.
func (o *openings) on(ctx context.Context, day civil.Date, planned amounts, stems []*treatmentv1.Stem) *treatmentv1.PrescribeResponse {
	applied, unknown := o.applied(yearOf(day))
	if unknown != "" {
		return undetermined(stems, unknown)
	}
	applied = maps.Clone(applied)
	if applied == nil {
		applied = amounts{}
	}
	applied.add(planned)
	var f faults
	kept := o.kept
	area, _ := f.real("", siteArea, kept.AreaM2)
	at := &site{place: kept.GetPlace(), facts: f.position("", kept.LatitudeDeg, kept.LongitudeDeg, kept.ElevationM), Site: treatment.Site{
		ID: kept.GetName(), Area: quantity.SquareMillimetres(area), Applied: applied, Granted: f.granted("", kept.GetGrantedReductions()),
	}}
	b := newSession(o.prescriber.catalogue, o.prescriber.current(), day, f.settings(o.with, o.prescriber.catalogue))
	b.measuring = f.positions(o.with)
	b.measuring.layers = o.prescriber.layers()
	leave := o.prescriber.desks.seat(b, o.with)
	answer := b.prescribe(ctx, at, stems)
	o.purchases = append(o.purchases, answer.GetSummary().GetPurchases()...)
	o.note(b)
	leave()
	return answer
}

// note remembers the sets that governed.
func (o *openings) note(b *session) {
	for _, ref := range b.ruleSets() {
		for _, set := range b.law.Sets {
			if set.Ref == ref && !slices.Contains(o.sets, set) {
				o.sets = append(o.sets, set)
			}
		}
	}
}

// undetermined says of all rows why nothing is prescribed.
func undetermined(stems []*treatmentv1.Stem, why string) *treatmentv1.PrescribeResponse {
	answer := &treatmentv1.PrescribeResponse{Explanations: []*treatmentv1.Explanation{{Why: why}}}
	first := int32(0)
	for _, stem := range stems {
		answer.Prescriptions = append(answer.Prescriptions, &treatmentv1.Prescription{StemId: stem.GetStemId(), Outcome: treatmentv1.Outcome_OUTCOME_UNDETERMINED, Explanation: &first})
	}
	return answer
}
