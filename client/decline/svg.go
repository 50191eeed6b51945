package decline

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"example.org/rootward/rules/civil"
)

// Size of a chart and of its parts.
const (
	chartWidth  = 760
	chartHead   = 58
	panelHeight = 190
	panelGap    = 44
	panelLeft   = 70
	panelRight  = 24
	chartFoot   = 92
)

// WriteSVG draws a chart as an SVG file.
func (c *Chart) WriteSVG(w io.Writer) error {
	all := c.series()
	height := chartHead + len(all)*(panelHeight+panelGap) - panelGap + chartFoot
	d := newDrawing(chartWidth, height, c.Title, c.Describe())
	d.text(place{panelLeft, 22}, "start", `font-size="15" font-weight="bold"`, c.Title)
	times := c.times()
	for i, s := range all {
		p := &panel{drawing: d, chart: c, series: s, times: times, top: chartHead + float64(i*(panelHeight+panelGap))}
		p.draw()
	}
	bottom := float64(height - chartFoot)
	d.text(place{(panelLeft + chartWidth - panelRight) / 2, bottom + 34}, "middle", fmt.Sprintf(`fill="%s"`, faint), "Date (marks on 1 January)")
	d.legend(panelLeft, bottom+58, chartWidth-panelLeft-panelRight, []entry{
		{dot, "counted"}, {ring, "part of the site counted: at least"}, {cross, "season without a full look"},
		{arrow, "treated"}, {box, "expected from published efficacy"},
	})
	return d.end(w)
}

// Describe says a chart in words.
func (c *Chart) Describe() string {
	if len(c.Points) == 0 {
		return "Nothing was counted yet."
	}
	var b strings.Builder
	b.WriteString("By day: ")
	for i := range c.Points {
		p := &c.Points[i]
		if i > 0 {
			b.WriteString("; ")
		}
		if p.Gap != "" {
			fmt.Fprintf(&b, "%s not looked enough", p.Gap)
			continue
		}
		fmt.Fprintf(&b, "%s", p.On)
		for _, s := range c.series() {
			if v := s.value(p); shown(v) {
				fmt.Fprintf(&b, ", %s %s", number(*v), s.word())
			}
		}
		if shownBand(p.Expected) {
			fmt.Fprintf(&b, ", expected %s to %s stems", number(p.Expected.Low), number(p.Expected.High))
		}
	}
	return b.String() + "."
}

// word names the unit of a number within a sentence.
func (s series) word() string {
	if s.unit == "count" {
		return "stems"
	}
	return s.unit + " of basal area"
}

// span is the time that a chart shows.
type span struct{ from, to civil.Date }

func (c *Chart) times() span {
	var s span
	take := func(d civil.Date) {
		if !d.Known() {
			return
		}
		if !s.from.Known() || d < s.from {
			s.from = d
		}
		s.to = max(s.to, d)
	}
	for _, p := range c.Points {
		take(p.On)
	}
	for _, d := range c.Treated {
		take(d)
	}
	if !s.from.Known() {
		s.from = civil.Of(2000, time.January, 1)
		s.to = s.from
	}
	margin := max(60, int(s.to-s.from)/20)
	return span{s.from - civil.Date(margin), s.to + civil.Date(margin)}
}

// panel is one series over time.
type panel struct {
	*drawing
	chart  *Chart
	series series
	times  span
	top    float64
	full   float64 // the number at the top
}

func (p *panel) place(d civil.Date, v float64) place {
	const width = chartWidth - panelLeft - panelRight
	return place{panelLeft + width*float64(d-p.times.from)/float64(p.times.to-p.times.from), p.top + panelHeight*(1-v/p.full)}
}

func (p *panel) bottom() float64 { return p.top + panelHeight }

func (p *panel) draw() {
	p.axes()
	for _, day := range p.chart.Treated {
		if !day.Known() {
			continue
		}
		x := p.place(day, 0).x
		p.line(place{x, p.top}, place{x, p.bottom()}, stroke(ink, 0.8)+` stroke-dasharray="1 3"`)
		p.mark(arrow, place{x, p.top})
	}
	p.expected()
	p.seen()
}

func (p *panel) axes() {
	const headroom = 1.08 // for the number above the highest point
	most := p.chart.most(p.series) * headroom
	by := step(most, 5)
	p.full = by * math.Ceil(most/by*(1-1e-9))
	for n := 0.0; n <= p.full*(1+1e-9); n += by {
		y := p.place(p.times.from, n).y
		p.line(place{panelLeft, y}, place{chartWidth - panelRight, y}, stroke(hair, 1))
		p.text(place{panelLeft - 8, y + 4}, "end", "", number(n))
	}
	p.text(place{panelLeft, p.top - 14}, "start", `font-weight="bold"`, fmt.Sprintf("%s (%s)", p.series.name, p.series.unit))
	first, _, _ := p.times.from.Parts()
	last, _, _ := p.times.to.Parts()
	every := int(max(1, step(float64(last-first+1), 12)))
	for year := first + 1; year <= last; year++ {
		x := p.place(civil.Of(year, time.January, 1), 0).x
		p.line(place{x, p.bottom()}, place{x, p.bottom() + 5}, stroke(ink, 1))
		if year%every == 0 {
			p.text(place{x, p.bottom() + 18}, "middle", "", fmt.Sprint(year))
		}
	}
	p.line(place{panelLeft, p.bottom()}, place{chartWidth - panelRight, p.bottom()}, stroke(ink, 1))
}

// expected draws the bands, and dashed lines from each to the next, as far as no season
// between them is without a count.
func (p *panel) expected() {
	var low, high []place
	end := func() {
		if len(low) > 1 {
			p.path(low, `fill="none" `+dashed)
			p.path(high, `fill="none" `+dashed)
		}
		for i := range low {
			p.band(high[i], low[i].y-high[i].y)
		}
		low, high = nil, nil
	}
	for i := range p.chart.Points {
		pt := &p.chart.Points[i]
		if pt.Gap != "" {
			end()
		} else if b := p.series.expected(pt); shownBand(b) && pt.On.Known() {
			low, high = append(low, p.place(pt.On, b.Low)), append(high, p.place(pt.On, b.High))
		}
	}
	end()
}

// seen draws the counts. A line goes from one to the next only where no season between
// them is without a count.
func (p *panel) seen() {
	var run []place
	end := func() {
		if len(run) > 1 {
			p.path(run, `fill="none" `+stroke(seen, 2))
		}
		run = nil
	}
	for i := range p.chart.Points {
		pt := &p.chart.Points[i]
		switch v := p.series.value(pt); {
		case pt.Gap != "" || !shown(v):
			end()
		case !pt.Partial && pt.On.Known():
			run = append(run, p.place(pt.On, *v))
		}
	}
	end()
	for i := range p.chart.Points {
		p.point(&p.chart.Points[i])
	}
}

func (p *panel) point(pt *Point) {
	v := p.series.value(pt)
	switch {
	case !pt.On.Known():
	case pt.Gap != "":
		p.mark(cross, place{p.place(pt.On, 0).x, p.bottom() - 8})
	case !shown(v):
	case pt.Partial:
		p.mark(ring, p.place(pt.On, *v))
	default:
		p.mark(dot, p.place(pt.On, *v))
		label := p.place(pt.On, *v)
		p.text(place{label.x + 8, label.y - 6}, "start", `stroke="#ffffff" stroke-width="3" paint-order="stroke"`, number(*v))
	}
}
