package api

import (
	"cmp"
	"math"
	"slices"
	"strings"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign"
	"example.org/rootward/server/campaign/after"
	"example.org/rootward/server/treatment"
)

// observations are the counts of what lives: full surveys, samples, and inspections.
func (st *standing) observations() []after.Observation {
	var list []after.Observation
	for _, p := range st.surveys {
		on, _ := rulewire.DecodeDate(p.GetDate())
		o := after.Observation{ID: p.GetName(), On: on, Complete: true}
		if p.GetSample() != nil {
			o.Stems, o.BasalArea = sampled(p.GetEstimates(), "stems"), sampled(p.GetEstimates(), "basal area")
		} else {
			var rows []*row
			for _, stem := range p.GetStems() {
				rows = append(rows, readStem(stem))
			}
			o.Stems, o.BasalArea = countStems(rows, func(i int) bool { return p.GetStems()[i].GetRootCollar() })
		}
		list = append(list, o)
	}
	for _, p := range st.visits {
		if p.GetKind() == campaignv1.VisitKind_VISIT_KIND_INSPECTION {
			list = append(list, st.observed(p))
		}
	}
	return list
}

// sampled is an estimate of a sample. Basal area is kept in square feet.
func sampled(list []*campaignv1.Estimate, what string) after.Estimate {
	for _, e := range list {
		if e.GetWhat() != what || e.Low == nil || e.High == nil {
			continue
		}
		unit := 1.0
		if strings.HasPrefix(e.GetUnit(), "m") {
			unit = quantity.SquareMetres(1).SquareFeet()
		}
		low := math.Max(0, e.GetLow())
		return after.Estimate{Value: e.GetTotal() * unit, Low: low * unit, High: e.GetHigh() * unit, Known: true}
	}
	return after.Estimate{}
}

// observed is what an inspection saw alive. Only one that looked enough, and wrote
// down all that it found, has counted the site; without a find another tells nothing.
func (st *standing) observed(p *campaignv1.Visit) after.Observation {
	on, _ := rulewire.DecodeDate(p.GetDate())
	o := after.Observation{ID: p.GetName(), On: on}
	var rows []*row
	var collar []bool
	for _, find := range p.GetFound() {
		if kindOf(find.GetKind()).Alive() {
			rows, collar = append(rows, readStem(find.GetStem())), append(collar, find.GetStem().GetRootCollar())
		}
	}
	look, lacks := st.judge(p)
	o.Complete = p.GetCountedAll() && look > after.TooLittle && len(lacks) == 0
	if o.Complete || len(rows) > 0 {
		o.Stems, o.BasalArea = countStems(rows, func(i int) bool { return collar[i] })
	}
	return o
}

// countStems sums stems and their basal area. What does not reach breast height, or is
// measured at the root collar for that, has none; any other stem without a diameter
// leaves the sum unknown.
func countStems(rows []*row, atCollar func(int) bool) (stems, area after.Estimate) {
	var sum int64
	var measured []after.Measured
	for i, r := range rows {
		n := r.stem.Stems()
		sum += n
		low := r.stem.Height > 0 && r.stem.Height < quantity.BreastHeight
		if !low && !atCollar(i) {
			measured = append(measured, after.Measured{Diameter: r.stem.Diameter, Stems: n})
		}
	}
	return after.Counted(float64(sum)), after.BasalArea(measured)
}

// rounds gathers uses into rounds: those between the beginnings of two growing seasons.
func (st *standing) rounds(seen []after.Observation) []after.Round {
	uses := slices.DeleteFunc(slices.Clone(st.Uses), func(u campaign.Use) bool { return u.On > st.day })
	slices.SortStableFunc(uses, func(a, b campaign.Use) int { return cmp.Compare(a.On, b.On) })
	if len(uses) == 0 {
		return nil
	}
	begun := after.Seasons(st.Demand.Leaf, uses[0].On, st.day)
	var list []after.Round
	var members [][]campaign.Use
	var season int
	for _, u := range uses {
		at := 0
		for at < len(begun) && begun[at].From <= u.On {
			at++
		}
		if len(list) == 0 || at != season {
			list, members, season = append(list, after.Round{From: u.On}), append(members, nil), at
		}
		last := len(list) - 1
		list[last].Until = u.On
		members[last] = append(members[last], u)
	}
	for i := range list {
		list[i].Controls = st.controls(members[i], countBefore(seen, list[i].From))
	}
	return list
}

// countBefore is how many stems the last count of the whole site before a day found, 0
// if there was none.
func countBefore(seen []after.Observation, day civil.Date) float64 {
	var last civil.Date
	stems := 0.0
	for _, o := range seen {
		if o.Complete && o.Stems.Known && o.On <= day && o.On >= last {
			last, stems = o.On, o.Stems.Value
		}
	}
	return stems
}

// controls is the published efficacy of what was done in one round, to each part of
// the stems. A row that was treated twice in a round counts once.
func (st *standing) controls(uses []campaign.Use, alive float64) []after.Control {
	stems := map[*treatment.Evidence]int64{}
	var order []*treatment.Evidence
	seen := map[string]bool{}
	for _, u := range uses {
		for _, id := range u.Rows {
			r := st.rowAt(id, u.On)
			if r == nil {
				return nil // nobody knows what was treated
			}
			if seen[id] {
				continue
			}
			seen[id] = true
			e := st.evidence(u, r)
			if _, known := stems[e]; !known {
				order = append(order, e)
			}
			stems[e] += r.stem.Stems()
		}
	}
	if alive <= 0 {
		return nil
	}
	var list []after.Control
	for _, e := range order {
		c := after.Control{Part: quantity.PerMillion(math.Round(float64(stems[e]) / alive * 1e6))}
		if e != nil {
			c.Source = e.Source
			c.Low, c.High = spread(e.Control, stems[e])
		}
		list = append(list, c)
	}
	return list
}

// spread is two standard errors of a binomial count to either side: so far chance alone
// takes a trial's figure on that many stems (arithmetic).
func spread(control quantity.PerMillion, stems int64) (low, high quantity.PerMillion) {
	const whole = 1_000_000
	p := float64(control) / whole
	off := quantity.PerMillion(2 * whole * math.Sqrt(p*(1-p)/float64(max(1, stems))))
	return max(0, control-off), min(whole, control+off)
}

// evidence is the figure that speaks least well of what a row got; nil if none is
// published.
func (st *standing) evidence(u campaign.Use, r *knownRow) *treatment.Evidence {
	method, active, kind := st.applied(u)
	season, _ := st.law.SeasonOn(u.On, r.stem.Species)
	var worst *treatment.Evidence
	for i := range st.catalogue.Evidence {
		e := &st.catalogue.Evidence[i]
		fits := !e.Guidance && e.Control > 0 &&
			(e.Species == "" || e.Species == r.stem.Species) && (e.Methods.Empty() || e.Methods.Has(method)) &&
			(e.Active == "" || e.Active == active) && (e.Kind == 0 || e.Kind == kind) &&
			(e.Forms.Empty() || e.Forms.Has(r.stem.Form)) && (e.Suckering.Empty() || e.Suckering.Has(r.suckering)) &&
			(e.Seasons.Empty() || season == 0 || e.Seasons.Has(season)) && withinDiameters(e, r)
		if fits && (worst == nil || e.Control < worst.Control) {
			worst = e
		}
	}
	return worst
}

// withinDiameters counts a row without a diameter to every class.
func withinDiameters(e *treatment.Evidence, r *knownRow) bool {
	d := r.stem.Diameter
	return d == 0 || d > e.Above && (e.UpTo == 0 || d <= e.UpTo)
}

// applied is what a use put on.
func (st *standing) applied(u campaign.Use) (method rules.Method, active string, kind rules.FormulationKind) {
	for _, p := range st.records {
		if p.GetName() != u.ID {
			continue
		}
		method, _ = rulewire.Decode[rules.Method](p.GetMethod())
		if f := st.catalogue.Formulation(p.GetFormulationId()); f != nil {
			active, kind = f.Active, f.Kind
		}
	}
	return method, active, kind
}

// decline writes the counts beside what was expected.
func (st *standing) decline() []*campaignv1.DeclinePoint {
	seen := st.observations()
	var list []*campaignv1.DeclinePoint
	for _, p := range after.Decline(seen, st.rounds(seen), st.Demand.Leaf, st.day) {
		w := &campaignv1.DeclinePoint{Source: p.ID, Verdict: p.Verdict.String(), Remarks: p.Why, Partial: !p.IsGap() && !p.Complete}
		w.Date = rulewire.EncodeDate(p.On)
		if p.IsGap() {
			w.Date, w.Gap = rulewire.EncodeDate(p.Gap.Until), p.Gap.String()
		}
		w.Stems, w.BasalAreaFt2 = numberIf(p.Stems.Value, p.Stems.Known), numberIf(p.BasalArea.Value, p.BasalArea.Known)
		w.ExpectedStemsLow, w.ExpectedStemsHigh = numberIf(p.Expected.Low, p.Expected.Known), numberIf(p.Expected.High, p.Expected.Known)
		list = append(list, w)
	}
	return list
}

func numberIf(v float64, known bool) *float64 {
	if !known {
		return nil
	}
	return &v
}

// roundsBegan is the first day of each round.
func (st *standing) roundsBegan() []civil.Date {
	var list []civil.Date
	for _, r := range st.rounds(nil) {
		if r.From.Known() {
			list = append(list, r.From)
		}
	}
	return list
}
