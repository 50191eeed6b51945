package water_test

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// metre is one of latitude, in degrees, about the equator (110,574 m a degree).
const metre = 1 / 110_574.0

// said writes what is known of perennial streams, in whole metres, upwards from
// half: the positions of these tests are drawn with less care than that.
func said(m water.Measured) string {
	return saying(&m.Water) + "/" + saying(&m.Seen)
}

func saying(w *rules.Waters) string {
	d, known := w.Get(rules.PerennialStream)
	if !known {
		return "unknown"
	}
	text := d.Origin.String() + " " + meters(d.Distance)
	if d.AtLeast {
		text = ">=" + text
	}
	return text
}

func meters(d quantity.Micrometres) string { return strconv.Itoa(int(math.Round(d.Metres()))) }

// A stream runs east at the latitude that is named; the spot is at the origin, and
// looks 100 m.
func TestWhatCoverageVouchesFor(t *testing.T) {
	covers := func(metres float64) object { return coverage("perennial_stream", square(0, 0, metres*metre)) }
	blurred := func(f object, metres float64) object {
		f["properties"].(object)["uncertainty_m"] = metres
		return f
	}
	covering := func(origin string) object {
		f := covers(1000)
		f["properties"].(object)["origin"] = origin
		return f
	}
	one := func(f ...object) []object { return []object{collection(f...)} }
	cases := []struct {
		name        string
		layers      []object
		uncertainty quantity.Micrometres
		want        string // Water, and Seen
	}{
		{"nothing is known without a coverage", one(bed(500, "bank_top")), 0, "unknown/unknown"},
		{"what is near is seen, and may not be all", one(bed(30, "bank_top")), 0, "unknown/bank_top 30"},
		{"another class's coverage vouches for nothing", one(bed(30, "bank_top"), coverage("lake", square(0, 0, 1))), 0, "unknown/bank_top 30"},
		{"outside of the coverage", one(bed(30, "bank_top"), coverage("perennial_stream", square(1, 1, 0.5))), 0, "unknown/bank_top 30"},

		{"none within the coverage", one(covering("bank_top")), 0, ">=bank_top 100/unknown"},
		{"none within the coverage, of a layer that has some", one(bed(500, "water_edge"), covers(1000)), 0, ">=water_edge 100/unknown"},
		{"a coverage that does not say what its lines would be", one(covers(1000)), 0, ">= 100/unknown"},
		{"the coverage's edge is nearer than the reach", one(bed(500, "bank_top"), covers(60)), 0, ">=bank_top 60/unknown"},
		{"what is nearer than the coverage's edge", one(bed(30, "bank_top"), covers(60)), 0, "bank_top 30/unknown"},
		{"what is farther than the coverage's edge", one(bed(80, "bank_top"), covers(60)), 0, ">=bank_top 60/bank_top 80"},

		{"uncertainty shortens", one(bed(30, "bank_top"), covers(60)), 10 * quantity.Metre, "bank_top 20/unknown"},
		{"uncertainty shortens the coverage", one(bed(500, "bank_top"), covers(60)), 10 * quantity.Metre, ">=bank_top 50/unknown"},
		{"uncertainty does not shorten the reach", one(bed(500, "bank_top"), covers(1000)), 10 * quantity.Metre, ">=bank_top 100/unknown"},
		{"water beyond the reach, that uncertainty brings within", one(bed(105, "bank_top"), covers(1000)), 10 * quantity.Metre, "bank_top 95/unknown"},
		{"uncertainty reaches out of the coverage", one(bed(500, "bank_top"), covers(60)), 61 * quantity.Metre, "unknown/unknown"},
		{"uncertainty reaches the water", one(bed(30, "bank_top"), covers(60)), 30 * quantity.Metre, "bank_top 0/unknown"},
		{"water that is reached needs no coverage", one(bed(30, "bank_top")), 30 * quantity.Metre, "bank_top 0/unknown"},

		{"water that may lie elsewhere", one(blurred(bed(30, "bank_top"), 12), covers(60)), 0, "bank_top 18/unknown"},
		{"water that may lie here", one(blurred(bed(30, "bank_top"), 30), covers(60)), 0, "bank_top 0/unknown"},
		{"water drawn beyond the reach, that may lie within", one(blurred(bed(110, "bank_top"), 12), covers(1000)), 0, "bank_top 98/unknown"},
		{"both may lie elsewhere", one(blurred(bed(30, "bank_top"), 12), covers(60)), 10 * quantity.Metre, "bank_top 8/unknown"},
		{"a coverage that may end elsewhere", one(bed(500, "bank_top"), blurred(covers(60), 15)), 0, ">=bank_top 45/unknown"},
		{"one map's uncertainty is not another's", []object{collection(blurred(bed(90, "bank_top"), 80)), collection(bed(30, "bank_top"), covers(60))}, 0, "bank_top 10/unknown"},
		{"the better of two coverages", []object{collection(bed(500, "bank_top"), covers(60)), collection(bed(500, "bank_top"), covers(80))}, 0, ">=bank_top 80/unknown"},
		{"another layer shows one that is nearer", []object{collection(bed(50, "bank_top"), covers(1000)), collection(bed(20, "bank_top"))}, 0, "bank_top 20/unknown"},
		{"another layer shows one that is farther", []object{collection(bed(20, "bank_top"), covers(1000)), collection(bed(50, "bank_top"))}, 0, "bank_top 20/unknown"},

		{"two layers from two origins: the one farther inland says more",
			[]object{collection(bed(30, "bank_top"), covers(1000)), collection(bed(40, "water_edge"), covers(1000))}, 0, "bank_top 30/unknown"},
		{"two layers that do not agree: the water's edge before the top of the bank",
			[]object{collection(bed(40, "bank_top"), covers(1000)), collection(bed(30, "water_edge"), covers(1000))}, 0, "water_edge 30/unknown"},
		{"two origins in one layer, the nearest of the farther one: no nearer than that, from the water's edge",
			one(bed(30, "bank_top"), bed(-80, "water_edge"), covers(1000)), 0, ">=water_edge 30/bank_top 30"},
		{"two origins in one layer, the nearest of the nearer one", one(bed(80, "bank_top"), bed(-30, "water_edge"), covers(1000)), 0, "water_edge 30/unknown"},
		{"two origins in one layer, none near", one(bed(500, "bank_top"), bed(-600, "water_edge"), covers(1000)), 0, ">=water_edge 100/unknown"},
		{"one line of no known origin decides nothing", one(bed(80, nil), bed(-30, "water_edge"), covers(1000)), 0, ">= 30/water_edge 30"},
		{"a layer of a known origin before one of none",
			[]object{collection(bed(500, nil), covers(1000)), collection(bed(500, "bank_top"), covers(60))}, 0, ">=bank_top 60/unknown"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			at := spot(0, 0)
			at.Uncertainty = c.uncertainty
			f := load(t, c.layers...).Finder(every, 100*quantity.Metre)
			assert.Equal(t, c.want, said(f.Measure(at)))
		})
	}
}
