package api

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/use"
)

// ruleOfUses is a rule that counts, with the uses of the year that it applies to.
type ruleOfUses struct {
	effect rules.Effect
	source string
	uses   []use.Use
}

// counting gathers the rules that count what was applied, from the records of a year up to
// a day.
func (st *standing) counting(records []*campaignv1.Record, year int, last civil.Date) []*ruleOfUses {
	by := map[string]*ruleOfUses{}
	actives := map[string]bool{}
	var lost []use.Use // of which nobody can say what counts them
	for _, p := range records {
		on := st.use(p).On
		if p.GetFormulationId() == "" || on.Known() && (yearOf(on) != year || on > last) {
			continue
		}
		one := st.useOf(p)
		label := "label " + one.Active
		if rate, source, known := st.catalogue.AnnualMax(one.Active); known && by[label] == nil {
			by[label] = &ruleOfUses{effect: rules.Cap{Active: one.Active, Rate: rate}, source: "the catalogue's annual maximum: " + source}
		}
		if by[label] != nil {
			by[label].uses = append(by[label].uses, one)
		}
		actives[one.Active] = true
		if p.GetDerivation().GetTreatment() == nil {
			one.AE, one.Area, one.Shore = -1, 0, -1
			lost = append(lost, one)
			continue
		}
		for source, effect := range st.countedBy(p) {
			if by[source] == nil {
				by[source] = &ruleOfUses{effect: effect, source: source}
			}
			by[source].uses = append(by[source].uses, one)
		}
	}
	var list []*ruleOfUses
	for key, r := range by {
		if !strings.HasPrefix(key, "label ") {
			r.uses = append(r.uses, lost...)
		}
		if c, ok := r.effect.(rules.Cap); !ok || actives[c.Active] {
			list = append(list, r)
		}
	}
	slices.SortFunc(list, func(a, b *ruleOfUses) int { return cmp.Compare(a.source, b.source) })
	return list
}

// countedBy are the rules of the day of a record that count it, by their source.
func (st *standing) countedBy(p *campaignv1.Record) map[string]rules.Effect {
	by := map[string]rules.Effect{}
	d := p.GetDerivation()
	t, err := rulewire.DecodeTreatment(d.GetTreatment())
	if err != nil || d.GetTreatment() == nil {
		return by
	}
	narrowed := st.law.Narrow(t)
	for _, decided := range d.GetDecisions() {
		site, err := rulewire.DecodeSurroundings(decided.GetSurroundings())
		if err != nil {
			continue
		}
		for _, f := range narrowed.Explain(&site) {
			switch f.Row.Effect.(type) {
			case rules.Cap, rules.UseThreshold:
				by[fmt.Sprintf("%s [%s/%s]", f.Row.Citation, f.Set.ID, f.Row.ID)] = f.Row.Effect
			}
		}
	}
	return by
}

// useOf is a record as it is counted.
func (st *standing) useOf(p *campaignv1.Record) use.Use {
	u := use.Use{Active: p.GetActive(), AE: -1, Ground: p.GetGround(), Shore: -1}
	if st.use(p).On.Known() && p.GetAeG() > 0 {
		u.AE = roundedUp(p.GetAeG())
	}
	area := p.TreatedAreaM2
	if area == nil {
		area = st.history.site.AreaM2
	}
	if area != nil {
		u.Area = quantity.SquareMetres(*area)
	}
	if p.ShoreM != nil {
		u.Shore = quantity.Metres(p.GetShoreM())
	}
	return u
}

func (st *standing) groundOfSite() *use.Ground {
	site := st.history.site
	var f faults
	return &use.Ground{
		Treated: quantity.SquareMetres(site.GetAreaM2()), Parcel: quantity.SquareMetres(site.GetParcelAreaM2()),
		BothBanks: word[rules.YesNo](&f, "", site.GetBothBanks()),
	}
}

// totals are amounts and thresholds of the calendar year of the standing's day, up to
// another.
func (st *standing) totals(records []*campaignv1.Record, last civil.Date) (caps []*campaignv1.YearTotal, thresholds []*campaignv1.Threshold) {
	year := yearOf(st.day)
	ground := st.groundOfSite()
	for _, r := range st.counting(records, year, last) {
		switch effect := r.effect.(type) {
		case rules.Cap:
			t := use.Cap(&effect, ground, r.uses)
			caps = append(caps, writeTotal(&t, effect.Active, year, r.source))
		case rules.UseThreshold:
			t, state := use.Threshold(&effect, ground, r.uses)
			thresholds = append(thresholds, writeThreshold(&t, state, &effect, year, r.source))
		}
	}
	return caps, thresholds
}

func gramsOf(ug int64) float64 { return quantity.MicrogramsAE(ug).Grams() }

func writeTotal(t *use.Total, active string, year int, source string) *campaignv1.YearTotal {
	return &campaignv1.YearTotal{
		Active: active, Year: int32(year), AppliedAeG: numberIf(gramsOf(t.Used), t.UsedKnown), LimitAeG: numberIf(gramsOf(t.Limit), t.LimitKnown),
		LeftAeG: gramsOf(t.Left()), Counted: t.Counted, Source: source, Unknown: t.Unknown,
	}
}

func writeThreshold(t *use.Total, state use.State, r *rules.UseThreshold, year int, source string) *campaignv1.Threshold {
	p := &campaignv1.Threshold{Year: int32(year), State: state.String(), Then: r.Then, Source: source}
	measure := func(v int64) float64 { return quantity.SquareMillimetres(v).SquareMetres() }
	p.Unit = "m2"
	if r.Length > 0 {
		p.Unit = "m"
		measure = func(v int64) float64 { return quantity.Micrometres(v).Metres() }
	}
	p.Used, p.Limit = numberIf(measure(t.Used), t.UsedKnown), measure(t.Limit)
	return p
}

// totalsWith are the amounts of the whole year with one record more: one that is kept
// late counts beside those of later days.
func (u *used) totalsWith(more *campaignv1.Record) []*campaignv1.YearTotal {
	caps, _ := u.st.totals(append(slices.Clone(u.st.records), more), civil.Of(yearOf(u.st.day), 12, 31))
	return caps
}
