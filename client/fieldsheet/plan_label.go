package fieldsheet

import (
	"fmt"
	"math"

	"example.org/rootward/client/measure"
	"example.org/rootward/rules/quantity"
)

// The size of a label in the drawing: a digit's width and the line's height.
const (
	digitWidth  = 5.2
	labelHeight = 9
	markSize    = 9 // of a symbol, across
)

// box is taken ground of the drawing.
type box struct{ left, top, right, bottom float64 }

func (b box) hits(o box) bool {
	return b.left < o.right && o.left < b.right && b.top < o.bottom && o.top < b.bottom
}

// label writes the rows' numbers beside the marks, where there is room for them;
// in a crowd a number that cannot be told from others is left out.
func (p *plan) label(places []place) {
	taken := make([]box, 0, 2*len(p.Marks))
	for _, m := range p.Marks {
		taken = append(taken, box{m.X - markSize/2, m.Y - markSize/2, m.X + markSize/2, m.Y + markSize/2})
	}
	for i, m := range p.Marks {
		text := fmt.Sprint(places[i].number)
		for _, at := range spots(m, float64(len(text))*digitWidth) {
			if p.holds(at) && free(at, taken) {
				taken = append(taken, at)
				p.Labels = append(p.Labels, label{tenth(at.left), tenth(at.bottom - 1.5), text})
				break
			}
		}
	}
}

// spots are where a label may stand: right of its mark, left, above, below.
func spots(m mark, width float64) []box {
	const gap = markSize/2 + 1.5
	at := func(left, top float64) box { return box{left, top, left + width, top + labelHeight} }
	return []box{
		at(m.X+gap, m.Y-labelHeight/2), at(m.X-gap-width, m.Y-labelHeight/2),
		at(m.X-width/2, m.Y-gap-labelHeight), at(m.X-width/2, m.Y+gap),
	}
}

func (p *plan) holds(b box) bool {
	return b.left > 2 && b.top > 2 && b.right < float64(p.Width)-2 && b.bottom < float64(p.Height-planFoot)
}

func free(b box, taken []box) bool {
	for _, t := range taken {
		if b.hits(t) {
			return false
		}
	}
	return true
}

// newBar picks the longest round length that takes at most a quarter of the map.
func newBar(scale float64, units measure.System) bar {
	perUnit, name := scale, "m" // drawing per unit
	if units == measure.US {
		perUnit, name = scale*quantity.Foot.Metres(), "ft"
	}
	length := round(planWidth / 4 / perUnit)
	text := fmt.Sprintf("%g m (%.4g ft)", length, quantity.Metres(length).Feet())
	if name == "ft" {
		text = fmt.Sprintf("%g ft (%.3g m)", length, quantity.Feet(length).Metres())
	}
	return bar{tenth(length * perUnit), text}
}

// round gives the greatest of 1, 2 and 5 times a power of ten up to v.
func round(v float64) float64 {
	power := math.Pow10(int(math.Floor(math.Log10(v))))
	for _, step := range []float64{5, 2} {
		if step*power <= v {
			return step * power
		}
	}
	return power
}

var symbolWords = []struct {
	symbol symbol
	text   string
}{
	{"plus", "hand pull"}, {"ring", "low volume foliar"}, {"target", "high volume foliar"}, {"square", "basal bark"},
	{"triangle", "hack and squirt"}, {"diamond", "cut stump"}, {"star", "other"}, {notTreated, "DO NOT TREAT"},
}

// explain lists the symbols that the map has.
func (p *plan) explain() {
	count := map[symbol]int{}
	for _, m := range p.Marks {
		count[m.Symbol]++
	}
	for _, s := range symbolWords {
		if count[s.symbol] > 0 {
			p.Legend = append(p.Legend, legend{Symbol: s.symbol, Text: fmt.Sprintf("%s: %d", s.text, count[s.symbol])})
		}
	}
}
