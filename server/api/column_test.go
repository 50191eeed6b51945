package api_test

import (
	"math"
	"slices"

	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// chunkOf writes stems of a site in columns.
func chunkOf(firstRow int64, siteID string, stems []*treatmentv1.Stem) *treatmentv1.StemChunk {
	c := &treatmentv1.StemChunk{FirstRow: firstRow, Words: []string{siteID}}
	for _, s := range stems {
		c.StemIds += s.StemId
		c.StemIdEnds = append(c.StemIdEnds, uint32(len(c.StemIds)))
		c.Site = append(c.Site, 0)
		c.Species = append(c.Species, indexOf(c, s.ScientificName))
		c.Form = append(c.Form, byte(s.Form))
		c.DiameterUm = append(c.DiameterUm, scaled(s.DiameterCm, 1e4))
		c.HeightUm = append(c.HeightUm, scaled(s.HeightM, 1e6))
		c.Count = append(c.Count, orUnknown(s.Count))
		c.StemsPerHa = append(c.StemsPerHa, scaled(s.StemDensityPerHa, 1))
		c.AreaMm2 = append(c.AreaMm2, scaled(s.AreaM2, 1e6))
		c.CrownWidthUm = append(c.CrownWidthUm, scaled(s.CrownWidthM, 1e6))
		c.LargerCount = append(c.LargerCount, orUnknown(s.LargerCount))
		c.LargerDiameterUm = append(c.LargerDiameterUm, scaled(s.LargerDiameterCm, 1e4))
		c.Desirable = append(c.Desirable, byte(s.Desirable))
		c.LandUse = append(c.LandUse, byte(s.LandUse))
		c.Soil = append(c.Soil, byte(s.Soil))
		c.Bark = append(c.Bark, byte(s.Bark))
		c.RootCheck = append(c.RootCheck, byte(s.RootCheck))
		c.SeedBearing = append(c.SeedBearing, byte(s.SeedBearing))
		c.SlopePermille = append(c.SlopePermille, scaled(s.SlopePercent, 10))
		c.OtherWaterBeyondUm = append(c.OtherWaterBeyondUm, scaled(s.OtherWaterBeyondM, 1e6))
		c.OtherPlacesBeyondUm = append(c.OtherPlacesBeyondUm, scaled(s.OtherPlacesBeyondM, 1e6))
	}
	c.Water, c.Places = waterColumns(stems), placeColumns(stems)
	positionColumns(c, stems)
	return c
}

// positionColumns writes positions; a chunk without any has no such columns.
func positionColumns(c *treatmentv1.StemChunk, stems []*treatmentv1.Stem) {
	if !slices.ContainsFunc(stems, func(s *treatmentv1.Stem) bool {
		return s.LatitudeDeg != nil || s.LongitudeDeg != nil || s.CoordinateUncertaintyM != nil || s.Outline != nil
	}) {
		return
	}
	degrees := func(v *float64) float64 {
		if v == nil {
			return math.NaN()
		}
		return *v
	}
	for i, s := range stems {
		c.LatitudeDeg, c.LongitudeDeg = append(c.LatitudeDeg, degrees(s.LatitudeDeg)), append(c.LongitudeDeg, degrees(s.LongitudeDeg))
		c.CoordinateUncertaintyUm = append(c.CoordinateUncertaintyUm, scaled(s.CoordinateUncertaintyM, 1e6))
		if s.Outline != nil {
			c.Outlines = append(c.Outlines, &treatmentv1.RowOutline{Index: int32(i), Rings: s.Outline})
		}
	}
}

func indexOf(c *treatmentv1.StemChunk, w string) int32 {
	i := slices.Index(c.Words, w)
	if i < 0 {
		i, c.Words = len(c.Words), append(c.Words, w)
	}
	return int32(i)
}

func scaled(v *float64, unit float64) int64 {
	if v == nil {
		return -1
	}
	return int64(math.Round(*v * unit))
}

func orUnknown(v *int64) int64 {
	if v == nil {
		return -1
	}
	return *v
}

func waterColumns(stems []*treatmentv1.Stem) []*treatmentv1.WaterColumn {
	columns := map[commonv1.WaterClass]*treatmentv1.WaterColumn{}
	for i, s := range stems {
		for _, w := range s.WaterDistances {
			column := columns[w.WaterClass]
			if column == nil {
				column = &treatmentv1.WaterColumn{
					WaterClass: w.WaterClass,
					DistanceUm: slices.Repeat([]int64{-1}, len(stems)), Origin: make([]byte, len(stems)), AtLeast: make([]bool, len(stems)),
					State: make([]byte, len(stems)),
				}
				columns[w.WaterClass] = column
			}
			column.DistanceUm[i], column.Origin[i], column.AtLeast[i] = scaled(&w.DistanceM, 1e6), byte(w.Origin), w.AtLeast
			column.State[i] = byte(w.State)
		}
	}
	var list []*treatmentv1.WaterColumn
	for class := range commonv1.WaterClass_WATER_CLASS_INTAKE_CATEGORY_3 + 1 {
		if columns[class] != nil {
			list = append(list, columns[class])
		}
	}
	return list
}

func placeColumns(stems []*treatmentv1.Stem) []*treatmentv1.PlaceColumn {
	columns := make([]*treatmentv1.PlaceColumn, commonv1.PlaceClass_PLACE_CLASS_PUBLIC_WAY+1)
	for i, s := range stems {
		for _, p := range s.PlaceDistances {
			if columns[p.PlaceClass] == nil {
				columns[p.PlaceClass] = &treatmentv1.PlaceColumn{
					PlaceClass: p.PlaceClass, DistanceUm: slices.Repeat([]int64{-1}, len(stems)), AtLeast: make([]bool, len(stems)),
				}
			}
			column := columns[p.PlaceClass]
			column.DistanceUm[i], column.AtLeast[i] = scaled(&p.DistanceM, 1e6), p.AtLeast
		}
	}
	return slices.DeleteFunc(columns, func(c *treatmentv1.PlaceColumn) bool { return c == nil })
}

// explanationsOf puts the explanations of an answer together.
func explanationsOf(c *treatmentv1.PrescriptionChunk) []*treatmentv1.Explanation {
	var known columnar.Explanations
	list, err := known.Of(c)
	if err != nil {
		panic(err)
	}
	return list
}

// rowsOf reads an answer in columns as answers by row.
func rowsOf(c *treatmentv1.PrescriptionChunk, ids []string) []*answeredRow {
	var list []*answeredRow
	explanations := explanationsOf(c)
	for i, outcome := range c.Outcome {
		p := &answeredRow{Prescription: &treatmentv1.Prescription{StemId: ids[i], Outcome: treatmentv1.Outcome(outcome), Dose: doseAt(c, i)}}
		if at := c.Explanation[i]; at >= 0 {
			p.Explanation = explanations[at]
		}
		list = append(list, p)
	}
	for _, column := range c.ComputedWater {
		for i, um := range column.DistanceUm {
			if um >= 0 {
				list[i].ComputedWater = append(list[i].ComputedWater, &commonv1.WaterDistance{
					WaterClass: column.WaterClass, DistanceM: float64(um) / 1e6, Origin: commonv1.DistanceOrigin(column.Origin[i]), AtLeast: column.AtLeast[i],
				})
			}
		}
	}
	for _, second := range c.SecondDoses {
		list[second.Row-c.FirstRow].SecondDose = second.Dose
	}
	for _, r := range c.Rejections {
		list[r.Row-c.FirstRow].Faults = r.Faults
	}
	return list
}

func doseAt(c *treatmentv1.PrescriptionChunk, i int) *treatmentv1.Dose {
	if c.Dose[i] == 0 {
		return nil
	}
	i = int(c.Dose[i]) - 1
	ml := func(ul []int64) float64 { return float64(ul[i]) / 1e3 }
	d := &treatmentv1.Dose{
		Stems: c.Stems[i], Cuts: c.Cuts[i], CutMl: ml(c.CutUl), MixMl: ml(c.MixUl), ProductMl: ml(c.ProductUl),
		CarrierMl: ml(c.CarrierUl), AdjuvantMl: ml(c.AdjuvantUl), DyeMl: ml(c.DyeUl), AeG: float64(c.AeUg[i]) / 1e6,
	}
	if rate := c.RateUgPerAc[i]; rate >= 0 {
		d.RateLbAePerAc = ptr(float64(rate) / 453_592_370) // a pound in micrograms
	}
	return d
}
