package report

import (
	"fmt"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"

	"example.org/rootward/client"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// waterColumns holds a row's distances to water where some were computed.
var waterColumns = []Column{
	column("water_distances", "each class of water with its stated and its computed distance, where each starts, and which of the two decides; blank where none was computed", func(r *client.Row) any {
		return list(water(r, func(m float64) string { return decimal(m) + " m" }))
	}).quickly(quickWater).ofFew(),
}

// water says of each class what is stated and what was computed, by class. It says
// nothing of a row of which nothing was computed.
func water(r *client.Row, length func(metres float64) string) []string {
	if len(r.Computed) == 0 {
		return nil
	}
	var lines []string
	for _, class := range rules.Words[rules.WaterClass]() {
		stated := distanceOf(r.Record.Stem.GetWaterDistances(), class)
		computed := distanceOf(r.Computed, class)
		if line := bothDistances(stated, computed, length); line != "" {
			lines = append(lines, wording.Word(class)+": "+line)
		}
	}
	if beyond := r.Record.Stem.OtherWaterBeyondM; beyond != nil {
		lines = append(lines, "every other class: stated at least "+length(*beyond))
	}
	return lines
}

// NearWater says of each class that is known to be near what is stated and what was
// computed. It says nothing of a row of which nothing was computed.
func NearWater(r *client.Row, units measure.System) []string {
	var lines []string
	for _, d := range r.Computed {
		if d.GetAtLeast() {
			continue
		}
		class := rules.WaterClass(d.GetWaterClass())
		lines = append(lines, wording.Word(class)+": "+bothDistances(distanceOf(r.Record.Stem.GetWaterDistances(), class), d, units.Nearer))
	}
	return lines
}

func distanceOf(list []*commonv1.WaterDistance, class rules.WaterClass) *commonv1.WaterDistance {
	for _, d := range list {
		if rules.WaterClass(d.GetWaterClass()) == class {
			return d
		}
	}
	return nil
}

func bothDistances(stated, computed *commonv1.WaterDistance, length func(float64) string) string {
	switch {
	case stated == nil && computed == nil:
		return ""
	case computed == nil:
		return "stated " + distance(stated, length) + ", none computed"
	case stated == nil:
		return "computed " + distance(computed, length)
	}
	return fmt.Sprintf("stated %s, computed %s; %s", distance(stated, length), distance(computed, length), decides(stated, computed))
}

// decides says which of two distances decides, as the rules weigh them: the smaller. A
// bound gives way to a distance.
func decides(stated, computed *commonv1.WaterDistance) string {
	const byStated, byComputed = "the stated one decides", "the computed one decides"
	s, c := quantity.Metres(stated.GetDistanceM()), quantity.Metres(computed.GetDistanceM())
	switch {
	case stated.GetOrigin() != computed.GetOrigin():
		return "each decides from where it starts"
	case stated.GetAtLeast() != computed.GetAtLeast():
		if stated.GetAtLeast() {
			return byComputed
		}
		return byStated
	case s == c:
		return "they agree"
	case (s < c) != stated.GetAtLeast(): // of two bounds the farther one tells more
		return byStated
	}
	return byComputed
}

func distance(d *commonv1.WaterDistance, length func(float64) string) string {
	text := length(d.GetDistanceM())
	if d.GetAtLeast() {
		text = "at least " + text
	}
	if d.GetOrigin() != 0 {
		text += " from the " + wording.Word(rules.DistanceOrigin(d.GetOrigin()))
	}
	return text
}

// Water writes computed distances, those of which no more is known than a bound among
// them.
func Water(p *page.Page, distances []*commonv1.WaterDistance, units measure.System) {
	for _, d := range distances {
		p.Line("  %s: %s", wording.Word(rules.WaterClass(d.GetWaterClass())), distance(d, units.Nearer))
	}
}
