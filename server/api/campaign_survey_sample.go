package api

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/sample"
)

// Defaults of a sample, in percent; common practice, no source.
const (
	defaultConfidence  = 95
	defaultWantedError = 20
)

// attribute is what is estimated, with its value on each plot; known is false where a
// row of any plot does not tell it.
type attribute struct {
	what, unit string
	values     []float64
	known      bool
}

// estimate says what a sample tells of the site.
func (s *Campaign) estimate(ctx context.Context, h *history, p *campaignv1.Survey) error {
	d, strata, plots := designOf(h.site, p.GetSample())
	list := countedOn(plots)
	products, without := s.productOn(ctx, h, p, plots)
	list = append(list, products...)
	p.Estimates, p.Cautions = nil, cautionsOf(h.site, p.GetSample(), plots)
	if without > 0 {
		p.Cautions = append(p.Cautions, fmt.Sprintf("rows of the plots without a treatment on their first opening: %d; product for them is not in the estimate", without))
	}
	for _, a := range list {
		if !a.known {
			p.Cautions = append(p.Cautions, a.what+" is not estimated: a row of a plot does not tell it")
			continue
		}
		for i := range strata {
			strata[i].Values = nil
		}
		for i, plot := range plots {
			strata[plot.stratum].Values = append(strata[plot.stratum].Values, a.values[i])
		}
		e, err := d.Of(strata)
		var fault *sample.Fault
		if errors.As(err, &fault) {
			var f faults
			f.add("survey.sample", "%s", fault)
			return f.err()
		}
		p.Estimates = append(p.Estimates, writeEstimate(&a, &e))
	}
	return nil
}

// onPlot is what was counted on a plot.
type onPlot struct {
	stratum int
	rows    []*row
	stems   []*treatmentv1.Stem
}

func designOf(site *campaignv1.Site, p *campaignv1.PlotSample) (sample.Design, []sample.Stratum, []onPlot) {
	d := sample.Design{PlotArea: sample.PlotArea(p.GetRadiusM()), Confidence: defaultConfidence / 100.0, Wanted: defaultWantedError / 100.0}
	if p.ConfidencePercent != nil {
		d.Confidence = p.GetConfidencePercent() / 100
	}
	if p.WantedErrorPercent != nil {
		d.Wanted = p.GetWantedErrorPercent() / 100
	}
	strata, at := []sample.Stratum{{Area: site.GetAreaM2()}}, map[string]int{}
	if len(p.GetStrata()) > 0 {
		strata = nil
	}
	for i, s := range p.GetStrata() {
		strata, at[s.GetStratumId()] = append(strata, sample.Stratum{Area: s.GetAreaM2()}), i
	}
	var plots []onPlot
	for _, plot := range p.GetPlots() {
		one := onPlot{stratum: at[plot.GetStratumId()], stems: plot.GetStems()}
		for _, stem := range plot.GetStems() {
			one.rows = append(one.rows, readStem(stem))
		}
		plots = append(plots, one)
	}
	return d, strata, plots
}

// classInches is the width of the diameter classes of a stand table.
const classInches = 2

// countedOn gives stems, basal area and a stand table.
func countedOn(plots []onPlot) []attribute {
	stems := attribute{what: "stems", unit: "stems", known: true}
	area := attribute{what: "basal area", unit: "sq ft", known: true}
	classes := map[int][]float64{}
	for i, plot := range plots {
		n, basal := countStems(plot.rows, func(at int) bool { return plot.stems[at].GetRootCollar() })
		stems.values, area.values = append(stems.values, n.Value), append(area.values, basal.Value)
		area.known = area.known && basal.Known
		for _, r := range plot.rows {
			class := -1
			if r.stem.Diameter > 0 {
				class = int(r.stem.Diameter.Inches()) / classInches
			}
			if classes[class] == nil {
				classes[class] = make([]float64, len(plots))
			}
			classes[class][i] += float64(r.stem.Stems())
		}
	}
	list := []attribute{stems, area}
	for _, class := range slices.Sorted(maps.Keys(classes)) {
		what := fmt.Sprintf("stems of %d to below %d in", class*classInches, (class+1)*classInches)
		if class < 0 {
			what = "stems without a diameter"
		}
		list = append(list, attribute{what: what, unit: "stems", values: classes[class], known: true})
	}
	return list
}

// productOn gives the product that the rows of each plot take, each on the first day from
// the survey's on which it may be treated, and the number of rows without a treatment.
func (s *Campaign) productOn(ctx context.Context, h *history, p *campaignv1.Survey, plots []onPlot) ([]attribute, int) {
	on, _ := rulewire.DecodeDate(p.GetDate())
	o := openings{Campaign: s, kept: h.site, from: on, applied: func(int) (amounts, string) { return nil, "" }}
	if n := len(h.plans); n > 0 {
		o.with = h.plans[n-1].GetSettings()
	}
	var stems []*treatmentv1.Stem
	var of []int
	for i, plot := range plots {
		for _, stem := range plot.stems {
			stems, of = append(stems, stem), append(of, i)
		}
	}
	byProduct, without := map[string]*attribute{}, 0
	for i, row := range o.prescribe(ctx, stems) {
		if !row.prescribed() {
			without++
			continue
		}
		c := row.words.GetChoice()
		if c.GetFormulationId() == "" {
			continue
		}
		a := byProduct[c.GetFormulationId()]
		if a == nil {
			a = &attribute{what: "product " + c.GetFormulationId(), unit: "L", values: make([]float64, len(plots)), known: true}
			byProduct[c.GetFormulationId()] = a
		}
		a.values[of[i]] += row.answer.GetDose().GetProductMl() / 1000
	}
	var list []attribute
	for _, a := range byProduct {
		list = append(list, *a)
	}
	slices.SortFunc(list, func(a, b attribute) int { return cmp.Compare(a.what, b.what) })
	return list, without
}

// enoughPlots is the least number below which an interval says little; common practice,
// no source.
const enoughPlots = 10

func cautionsOf(site *campaignv1.Site, p *campaignv1.PlotSample, plots []onPlot) []string {
	list := []string{
		"the interval holds for plots that were drawn by lot or laid out as a grid from a random start; of plots that somebody chose it tells nothing",
		"product is what the rows of the plots take, without spare and without what an annual maximum holds back on the whole site: a plan from a full inventory decides",
	}
	if n := len(plots); n < enoughPlots {
		list = append(list, fmt.Sprintf("%d plots are few: take %d at least (common practice, no source)", n, enoughPlots))
	}
	if !slices.ContainsFunc(plots, func(o onPlot) bool { return len(o.rows) > 0 }) {
		list = append(list, "all plots are empty: that nothing was found on them does not say that nothing is there")
	}
	var strata float64
	for _, s := range p.GetStrata() {
		strata += s.GetAreaM2()
	}
	switch {
	case site.AreaM2 == nil && len(p.GetStrata()) == 0:
		list = append(list, "the site has no area_m2: means are known, and no totals")
	case strata > 0 && site.AreaM2 != nil && math.Abs(strata-site.GetAreaM2()) > site.GetAreaM2()/100:
		list = append(list, fmt.Sprintf("the strata have %g m² together, the site %g m²: totals are those of the strata", strata, site.GetAreaM2()))
	}
	return list
}

func writeEstimate(a *attribute, e *sample.Estimate) *campaignv1.Estimate {
	p := &campaignv1.Estimate{
		What: a.what, Unit: a.unit, Plots: int32(e.Plots), MeanPerHa: e.PerArea * quantity.Hectare.SquareMetres(), Method: e.Method,
		ErrorPercent: finite(e.Share() * 100), Low: finite(e.Low), High: finite(e.High),
		Total: finite(e.Total), StandardError: finite(e.Error * e.Total / e.PerPlot),
	}
	if e.Needed > 0 {
		n := int32(e.Needed)
		p.PlotsNeeded = &n
	}
	return p
}

// finite is a number, and nothing where there is none.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
