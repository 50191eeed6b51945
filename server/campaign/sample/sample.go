package sample

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Design is how a sample was taken.
type Design struct {
	PlotArea   float64 // of each plot, m²
	Confidence float64 // of the interval, above 0.5 and below 1
	Wanted     float64 // error that is wanted, as a share of the mean, above 0
}

// Stratum is a part of the ground, or all of it.
type Stratum struct {
	Area   float64   // m²; 0: not known
	Values []float64 // on each plot
}

// Estimate is one attribute of the ground.
type Estimate struct {
	Plots     int
	PerPlot   float64 // mean
	PerArea   float64 // mean, per m²
	Total     float64 // NaN where the ground is not known
	Error     float64 // standard error of the mean per plot; NaN where the sample cannot tell
	Freedom   float64 // degrees of it
	Half      float64 // half the interval of the mean per plot; NaN as Error
	Low, High float64 // of the total; NaN as Half and Total
	// Needed is the least number of plots, allocated in proportion to the ground, whose
	// interval would be as narrow as is wanted; 0 where the sample cannot tell.
	Needed int
	Method string
}

// Share is half the interval as a share of the mean; NaN where there is none.
func (e *Estimate) Share() float64 {
	if e.PerPlot == 0 {
		return math.NaN()
	}
	return e.Half / e.PerPlot
}

// PlotRadius is that of a circle of an area.
func PlotRadius(area float64) float64 { return math.Sqrt(area / math.Pi) }

// PlotArea is that of a circle.
func PlotArea(radius float64) float64 { return math.Pi * radius * radius }

// StudentT is the value that a share of Student's distribution lies within on both sides.
func StudentT(confidence, freedom float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(0.5 + confidence/2)
}

// part is a stratum summed up.
type part struct {
	n              int
	of             float64 // plots that the ground holds
	mean, variance float64 // variance: NaN for a single plot
}

// sum sums a stratum up. Of ground that is not known there is no end of plots.
func (s *Stratum) sum(d *Design) (part, error) {
	p := part{n: len(s.Values), of: math.Inf(1)}
	if p.n == 0 {
		return p, fmt.Errorf("has no plot: take one at least, two to tell how far the mean can be wrong")
	}
	if s.Area > 0 {
		p.of = s.Area / d.PlotArea
		if p.of < float64(p.n) {
			return p, fmt.Errorf("has %d plots of %g m², which is more than its %g m²", p.n, d.PlotArea, s.Area)
		}
	}
	for _, v := range s.Values {
		p.mean += v / float64(p.n)
	}
	for _, v := range s.Values {
		p.variance += (v - p.mean) * (v - p.mean) / float64(p.n-1)
	}
	if p.n == 1 {
		p.variance = math.NaN()
	}
	return p, nil
}

// correction is for a population that is not endless.
func (p *part) correction() float64 { return 1 - float64(p.n)/p.of }

// ofMean is the variance of the mean.
func (p *part) ofMean() float64 { return p.variance / float64(p.n) * p.correction() }

// Fault is what is wrong with a stratum.
type Fault struct {
	Stratum int
	Err     error
}

// Error names the stratum by its place.
func (f *Fault) Error() string { return fmt.Sprintf("stratum %d %s", f.Stratum+1, f.Err) }

// Of estimates an attribute. Its error is a *Fault.
func (d *Design) Of(strata []Stratum) (Estimate, error) {
	parts := make([]part, len(strata))
	for i := range strata {
		p, err := strata[i].sum(d)
		if err != nil {
			return Estimate{}, &Fault{i, err}
		}
		parts[i] = p
	}
	if len(parts) == 1 {
		return d.simple(&parts[0]), nil
	}
	return d.stratified(parts), nil
}

func (d *Design) simple(p *part) Estimate {
	e := Estimate{Plots: p.n, PerPlot: p.mean, Error: math.Sqrt(p.ofMean()), Freedom: float64(p.n - 1)}
	e.Method = fmt.Sprintf("simple random sample of %d plots, finite population correction, Student's t of %d degrees of freedom", p.n, p.n-1)
	if math.IsInf(p.of, 1) {
		e.Method = fmt.Sprintf("simple random sample of %d plots of ground of unknown extent, Student's t of %d degrees of freedom", p.n, p.n-1)
	}
	d.finish(&e, p.of)
	e.Needed = d.needed(p.mean, p.variance, p.of, 1)
	return e
}

// stratified weighs each part by the plots that its ground holds. Degrees of freedom are
// Satterthwaite's.
func (d *Design) stratified(parts []part) Estimate {
	var e Estimate
	var of, squares, within float64
	for i := range parts {
		of += parts[i].of
	}
	var variance float64
	for i := range parts {
		p := &parts[i]
		weight := p.of / of
		e.Plots += p.n
		e.PerPlot += weight * p.mean
		variance += weight * weight * p.ofMean()
		within += weight * p.variance
		g := weight * weight * p.ofMean()
		squares += g * g / float64(p.n-1)
	}
	e.Error = math.Sqrt(variance)
	e.Freedom = variance * variance / squares
	if variance == 0 {
		e.Freedom = float64(e.Plots - len(parts))
	}
	e.Method = fmt.Sprintf("stratified sample of %d plots in %d strata, weighted by ground, finite population correction, Student's t of %.1f degrees of freedom (Satterthwaite)", e.Plots, len(parts), e.Freedom)
	d.finish(&e, of)
	e.Needed = d.needed(e.PerPlot, within, of, len(parts))
	return e
}

// finish adds what follows from mean and standard error.
func (d *Design) finish(e *Estimate, of float64) {
	e.PerArea = e.PerPlot / d.PlotArea
	e.Total, e.Half = math.NaN(), math.NaN()
	if !math.IsInf(of, 1) {
		e.Total = e.PerPlot * of
	}
	if !math.IsNaN(e.Error) && e.Freedom > 0 {
		e.Half = StudentT(d.Confidence, e.Freedom) * e.Error
	}
	// There are no fewer stems than none.
	e.Low, e.High = math.Max(0, (e.PerPlot-e.Half)*of), (e.PerPlot+e.Half)*of
	if math.IsNaN(e.Total) || math.IsNaN(e.Half) {
		e.Low, e.High = math.NaN(), math.NaN()
	}
}

// mostPlots ends the search for a number of plots.
const mostPlots = 1_000_000

// needed is the least number of plots, some in each part, that keeps the wanted error by
// its own Student's t. A rule that takes t from the sample at hand, or once from its own
// answer, may fall short by a plot.
func (d *Design) needed(mean, variance, of float64, parts int) int {
	if math.IsNaN(variance) || mean <= 0 || d.Wanted <= 0 {
		return 0
	}
	enough := func(n int) bool {
		t := StudentT(d.Confidence, float64(n-parts))
		return t*math.Sqrt(math.Max(0, variance/float64(n)*(1-float64(n)/of))) <= d.Wanted*mean
	}
	low, high := 2*parts, 2*parts
	for !enough(high) && high < mostPlots && float64(high) < of {
		low, high = high, 2*high
	}
	high = int(math.Min(float64(high), math.Min(of, mostPlots)))
	for low < high {
		if middle := (low + high) / 2; enough(middle) {
			high = middle
		} else {
			low = middle + 1
		}
	}
	return high
}
