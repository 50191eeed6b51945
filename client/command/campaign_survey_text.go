package command

import (
	"fmt"
	"strings"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"

	"example.org/rootward/client/page"
)

// cutPlot reads ID=FILE or STRATUM/ID=FILE.
func cutPlot(s string) (*campaignv1.Plot, string, bool) {
	id, path, ok := strings.Cut(s, "=")
	plot := &campaignv1.Plot{PlotId: id}
	if stratum, rest, parted := strings.Cut(id, "/"); parted {
		plot.StratumId, plot.PlotId = stratum, rest
	}
	return plot, path, ok && plot.PlotId != "" && path != ""
}

// surveyText says what a survey tells. Of a sample each total stands with its interval:
// what there is to buy is a range, and not a point.
func surveyText(p *page.Page, s *campaignv1.Survey) *page.Page {
	surveyLine(p, s)
	if s.GetSample() == nil {
		return p
	}
	confidence := 95.0
	if s.GetSample().ConfidencePercent != nil {
		confidence = s.GetSample().GetConfidencePercent()
	}
	p.Line("")
	p.Line("ON THE WHOLE SITE, WITH THE INTERVAL OF %g %%", confidence)
	p.Line("%-28s %12s %12s %23s %8s %6s", "", "a hectare", "total", "from to", "error", "plots")
	for _, e := range s.GetEstimates() {
		p.Line("%-28s %12s %12s %23s %8s %6s", fmt.Sprintf("%s (%s)", e.GetWhat(), e.GetUnit()), rounded(e.MeanPerHa), optional(e.Total), interval(e), errorOf(e), plotsNeeded(e))
	}
	p.Line("")
	p.Text("", "Error: half the interval, in percent of the mean. Plots: how many the wanted error would take, allocated in proportion to the ground.")
	if list := s.GetEstimates(); len(list) > 0 {
		p.Text("", "How: "+list[0].GetMethod()+".")
	}
	for _, c := range s.GetCautions() {
		p.Text("! ", c)
	}
	return p
}

// rounded shows three figures that count.
func rounded(v float64) string {
	if v >= 1000 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.3g", v)
}

func optional(v *float64) string {
	if v == nil {
		return "?"
	}
	return rounded(*v)
}

func interval(e *campaignv1.Estimate) string {
	if e.Low == nil || e.High == nil {
		return "?"
	}
	return rounded(e.GetLow()) + " to " + rounded(e.GetHigh())
}

func errorOf(e *campaignv1.Estimate) string {
	if e.ErrorPercent == nil {
		return "?"
	}
	return fmt.Sprintf("%.0f %%", e.GetErrorPercent())
}

func plotsNeeded(e *campaignv1.Estimate) string {
	if e.PlotsNeeded == nil {
		return "?"
	}
	return fmt.Sprint(e.GetPlotsNeeded())
}
