package api_test

import (
	"fmt"
	"math/rand/v2"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// draw makes stems of every kind, some with facts missing and some with faults.
type draw struct{ *rand.Rand }

func newDraw(seed uint64) draw { return draw{rand.New(rand.NewPCG(seed, 1))} }

func (d draw) stems(n int) []*treatmentv1.Stem {
	stems := make([]*treatmentv1.Stem, n)
	for i := range stems {
		stems[i] = d.stem(fmt.Sprintf("stem-%d", i))
		if d.IntN(20) == 0 {
			d.spoil(stems[i])
		}
	}
	return stems
}

var drawnSpecies = []string{"Ailanthus altissima", "Robinia pseudoacacia", "Rhamnus cathartica"}

func (d draw) stem(id string) *treatmentv1.Stem {
	s := &treatmentv1.Stem{
		StemId: id, ScientificName: drawnSpecies[d.IntN(len(drawnSpecies))],
		Form:       commonv1.GrowthForm(1 + d.IntN(6)),
		DiameterCm: d.micrometres(1, 400_000, 1e4), HeightM: d.micrometres(1, 20_000_000, 1e6),
		Desirable: commonv1.Desirable(d.IntN(4)), LandUse: commonv1.LandUse(d.IntN(9)),
		Soil: commonv1.SoilState(d.IntN(5)), Bark: commonv1.BarkState(d.IntN(4)),
		RootCheck: commonv1.RootCheck(d.IntN(4)), SeedBearing: commonv1.YesNo(d.IntN(3)),
		OtherWaterBeyondM: d.micrometres(0, 100_000_000, 1e6),
	}
	if d.IntN(2) == 0 {
		s.SlopePercent = ptr(float64(d.IntN(1_000)) / 10)
	}
	d.patch(s)
	for class := range commonv1.WaterClass_WATER_CLASS_INTAKE_CATEGORY_3 {
		if d.IntN(4) == 0 {
			s.WaterDistances = append(s.WaterDistances, &commonv1.WaterDistance{
				WaterClass: class + 1, DistanceM: float64(d.IntN(100_000_000)) / 1e6, Origin: commonv1.DistanceOrigin(d.IntN(4)), State: commonv1.WaterState(d.IntN(3)),
			})
		}
	}
	d.places(s)
	return s
}

// micrometres is a length in a unit of so many micrometres, or nothing.
func (d draw) micrometres(from, to int64, unit float64) *float64 {
	if d.IntN(5) == 0 {
		return nil
	}
	return ptr(float64(from+d.Int64N(to)) / unit)
}

func (d draw) patch(s *treatmentv1.Stem) {
	switch d.IntN(4) {
	case 0:
		s.Count = ptr(1 + d.Int64N(40))
	case 1:
		s.AreaM2 = ptr(float64(1 + d.IntN(2_000)))
		s.StemDensityPerHa = ptr(float64(1 + d.IntN(12_000)))
		s.LargerCount, s.LargerDiameterCm = ptr(d.Int64N(9)), d.micrometres(1, 300_000, 1e4)
	}
	s.CrownWidthM = d.micrometres(1, 6_000_000, 1e6)
}

func (d draw) places(s *treatmentv1.Stem) {
	s.OtherPlacesBeyondM = d.micrometres(0, 100_000_000, 1e6)
	for class := range commonv1.PlaceClass_PLACE_CLASS_PUBLIC_WAY {
		if d.IntN(4) == 0 {
			s.PlaceDistances = append(s.PlaceDistances, &commonv1.PlaceDistance{
				PlaceClass: class + 1, DistanceM: float64(d.IntN(100_000_000)) / 1e6, AtLeast: d.IntN(3) == 0,
			})
		}
	}
}

// spoil puts one or two faults into a stem, of those that columns can hold too.
func (d draw) spoil(s *treatmentv1.Stem) {
	spoilers := []func(){
		func() { s.ScientificName = "Nullius nullius" },
		func() { s.StemId = "" },
		func() { s.Form = 0 },
		func() { s.Form = 77 },
		func() { s.Soil = 99 },
		func() { s.DiameterCm = ptr(0.0) },
		func() { s.DiameterCm = ptr(501.0) },
		func() { s.HeightM = ptr(-4.0) },
		func() { s.Count = ptr(int64(0)) },
		func() { s.SlopePercent = ptr(-5.0) },
		func() { s.StemDensityPerHa, s.AreaM2 = ptr(100.0), nil },
		func() { s.OtherWaterBeyondM = ptr(2e6) },
		func() {
			s.WaterDistances = []*commonv1.WaterDistance{{WaterClass: 2, DistanceM: -2, Origin: 9, State: 9}}
		},
		func() { s.OtherPlacesBeyondM = ptr(-1.0) },
		func() {
			s.PlaceDistances = []*commonv1.PlaceDistance{{PlaceClass: 1, DistanceM: 5}, {PlaceClass: 3, DistanceM: 2e6}}
		},
	}
	for range 1 + d.IntN(2) {
		spoilers[d.IntN(len(spoilers))]()
	}
}
