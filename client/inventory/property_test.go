package inventory_test

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"example.org/rootward/client/inventory"
)

// twin is a column in US customary units and the same quantity in metric ones.
type twin struct {
	customary, metric string
	factor            *big.Rat // metric units in one customary unit
	most              int      // thousandths of the customary unit
}

func ratio(numerator, denominator int64) *big.Rat { return big.NewRat(numerator, denominator) }

// Factors of NIST Handbook 44, Appendix C: in 2.54 cm, ft 0.3048 m, ac 4046.8564224 m².
var twins = []twin{
	{"dbh_in", "dbh_cm", ratio(254, 100), 196_000},
	{"girth_in", "girth_cm", ratio(254, 100), 600_000},
	{"root_collar_in", "root_collar_cm", ratio(254, 100), 196_000},
	{"height_ft", "height_m", ratio(3048, 10_000), 393_000},
	{"crown_width_ft", "crown_width_m", ratio(3048, 10_000), 393_000},
	{"larger_dbh_in", "larger_dbh_cm", ratio(254, 100), 196_000},
	{"infested_area_ac", "infested_area_m2", ratio(40_468_564_224, 10_000_000), 500_000},
	{"infested_area_ac", "infested_area_ha", ratio(40_468_564_224, 100_000_000_000), 500_000},
	{"site_area_ac", "site_area_m2", ratio(40_468_564_224, 10_000_000), 500_000},
	{"infested_area_ft2", "infested_area_m2", ratio(9_290_304, 100_000_000), 1_000_000_000},
	{"distance_well_ft", "distance_well_m", ratio(3048, 10_000), 3_000_000_000},
	{"other_water_beyond_ft", "other_water_beyond_m", ratio(3048, 10_000), 3_000_000_000},
}

// The same inventory in inches and in centimetres gives the same stems, to the
// bit. Values are thousandths of the customary unit, and areas up to 500 acres:
// of larger ones float64 can miss a square millimetre.
func TestUnitsDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for _, w := range twins {
			thousandths := rapid.IntRange(1, w.most).Draw(t, w.customary)
			v := big.NewRat(int64(thousandths), 1000)
			customary := one(t, w.customary, v.FloatString(3))
			metric := one(t, w.metric, new(big.Rat).Mul(v, w.factor).FloatString(14))
			require.True(t, proto.Equal(customary.Stem, metric.Stem), "%s %s", w.customary, v.FloatString(3))
			require.Equal(t, customary.SiteAreaM2, metric.SiteAreaM2)
		}
	})
}

func one(t require.TestingT, column, value string) *inventory.Record {
	r, err := inventory.NewCSV(strings.NewReader(header + "," + column + "\n" + good + "," + value + "\n"))
	require.NoError(t, err)
	rec, err := r.Next()
	require.NoError(t, err)
	require.Empty(t, rec.Faults)
	return rec
}

// What is rounded is rounded to the careful side, and by less than a unit.
func TestRoundingToTheCarefulSide(t *testing.T) {
	micrometre, whole, tenth := big.NewRat(1, 1_000_000), big.NewRat(1, 1), big.NewRat(1, 10)
	cases := []struct {
		column string
		factor *big.Rat
		up     bool
		step   *big.Rat
		most   int
		get    func(*inventory.Record) float64
	}{
		{"distance_lake_ft", ratio(3048, 10_000), false, micrometre, 1_000_000_000, func(r *inventory.Record) float64 { return r.Stem.WaterDistances[0].DistanceM }},
		{"other_water_beyond_m", ratio(1, 1), false, micrometre, 1_000_000_000, func(r *inventory.Record) float64 { return *r.Stem.OtherWaterBeyondM }},
		{"distance_school_ft", ratio(3048, 10_000), false, micrometre, 1_000_000_000, func(r *inventory.Record) float64 { return r.Stem.PlaceDistances[0].DistanceM }},
		{"stem_density_per_ac", ratio(100_000_000_000, 40_468_564_224), true, whole, 1_000_000_000, func(r *inventory.Record) float64 { return *r.Stem.StemDensityPerHa }},
		{"stem_density_per_ha", ratio(1, 1), true, whole, 1_000_000_000, func(r *inventory.Record) float64 { return *r.Stem.StemDensityPerHa }},
		{"slope_percent", ratio(1, 1), true, tenth, 10_000_000, func(r *inventory.Record) float64 { return *r.Stem.SlopePercent }},
	}
	// What a float64 in the message can be off by.
	slack := big.NewRat(1, 10_000_000_000)
	rapid.Check(t, func(t *rapid.T) {
		for _, c := range cases {
			v := big.NewRat(int64(rapid.IntRange(1, c.most).Draw(t, c.column)), 10_000)
			exact := new(big.Rat).Mul(v, c.factor)
			got := new(big.Rat).SetFloat64(c.get(one(t, c.column, v.FloatString(4))))
			off := new(big.Rat).Sub(got, exact)
			if !c.up {
				off.Neg(off)
			}
			require.True(t, off.Cmp(new(big.Rat).Neg(slack)) >= 0, "%s %s gives %s", c.column, v.FloatString(4), got.FloatString(8))
			require.True(t, off.Cmp(new(big.Rat).Add(c.step, slack)) < 0, "%s %s gives %s", c.column, v.FloatString(4), got.FloatString(8))
		}
	})
}

// Columns may stand in any order.
func TestOrderOfColumnsDoesNotMatter(t *testing.T) {
	names := strings.Split(header+",dbh_in,height_ft,distance_well_from,distance_well_ft,slope_percent,decimalLatitude,decimalLongitude", ",")
	values := strings.Split(good+",6,30,bank_top,50,12,43,-38", ",")
	want := readCSV(t, strings.Join(names, ",")+"\n"+strings.Join(values, ",")+"\n")[0]
	require.Empty(t, want.Faults)
	all := make([]int, len(names))
	for i := range all {
		all[i] = i
	}
	rapid.Check(t, func(t *rapid.T) {
		order := rapid.Permutation(all).Draw(t, "order")
		var head, row []string
		for _, i := range order {
			head, row = append(head, names[i]), append(row, values[i])
		}
		r, err := inventory.NewCSV(strings.NewReader(strings.Join(head, ",") + "\n" + strings.Join(row, ",") + "\n"))
		require.NoError(t, err)
		got, err := r.Next()
		require.NoError(t, err)
		require.True(t, proto.Equal(want.Stem, got.Stem))
		require.Equal(t, fmt.Sprint(*want.Lat, *want.Lon), fmt.Sprint(*got.Lat, *got.Lon))
	})
}
