package many

import (
	"fmt"
	"iter"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
)

// Chunks gives an inventory of so many rows as a stream carries it, in chunks of at
// most so many rows. It is what reading CSV gives, but that a row whose diameter is
// no number stays in it, with a diameter that the server rejects. Each chunk is new
// and belongs to the caller.
func Chunks(seed uint64, rows int64, chunkRows int) iter.Seq[*treatmentv1.StemChunk] {
	if chunkRows < 1 {
		panic(fmt.Sprintf("many: a chunk of %d rows; ask for at least 1", chunkRows))
	}
	return func(yield func(*treatmentv1.StemChunk) bool) {
		g := generator{seed: seed}
		for first := int64(1); first <= rows; first += int64(chunkRows) {
			if !yield(g.chunk(first, min(int64(chunkRows), rows-first+1))) {
				return
			}
		}
	}
}

func (g *generator) chunk(first, rows int64) *treatmentv1.StemChunk {
	c := newColumns(first, int(rows))
	for i := range rows {
		r := g.draw(first + i)
		c.add(&r)
	}
	return c.message()
}

// columns is a chunk while it grows.
type columns struct {
	*treatmentv1.StemChunk
	wordAt                map[string]int32
	ids                   []byte // of all rows, one behind the other
	stream, wetland, well *treatmentv1.WaterColumn
}

func newColumns(first int64, rows int) *columns {
	numbers := func() []int64 { return make([]int64, 0, rows) }
	water := func(class commonv1.WaterClass) *treatmentv1.WaterColumn {
		return &treatmentv1.WaterColumn{WaterClass: class, DistanceUm: numbers()}
	}
	return &columns{
		StemChunk: &treatmentv1.StemChunk{
			FirstRow: first, StemIdEnds: make([]uint32, 0, rows), DiameterUm: numbers(), HeightUm: numbers(), Count: numbers(),
			StemsPerHa: numbers(), AreaMm2: numbers(), LargerCount: numbers(), LargerDiameterUm: numbers(), SlopePermille: numbers(),
			OtherWaterBeyondUm: numbers(), CoordinateUncertaintyUm: numbers(),
		},
		wordAt: map[string]int32{},
		stream: water(commonv1.WaterClass_WATER_CLASS_PERENNIAL_STREAM), wetland: water(commonv1.WaterClass_WATER_CLASS_WETLAND),
		well: water(commonv1.WaterClass_WATER_CLASS_WELL),
	}
}

func (c *columns) word(w string) int32 {
	at, known := c.wordAt[w]
	if !known {
		at = int32(len(c.Words))
		c.Words = append(c.Words, w)
		c.wordAt[w] = at
	}
	return at
}

func (c *columns) add(r *row) {
	c.ids = appendID(c.ids, r.number)
	c.StemIdEnds = append(c.StemIdEnds, uint32(len(c.ids)))
	c.Site, c.Species, c.Form = append(c.Site, c.word(r.siteID)), append(c.Species, c.word(r.species)), append(c.Form, byte(r.form))
	diameter := tenths(r.diameter)
	if r.fault == noNumber {
		diameter = 0
	}
	c.DiameterUm, c.HeightUm = append(c.DiameterUm, diameter), append(c.HeightUm, feet(r.height))
	c.Count, c.StemsPerHa = append(c.Count, r.count), append(c.StemsPerHa, r.perHectare)
	c.AreaMm2 = append(c.AreaMm2, known(r.area, squareMillimetres))
	c.LargerCount, c.LargerDiameterUm = append(c.LargerCount, r.larger), append(c.LargerDiameterUm, tenths(r.largerDBH))
	c.Desirable, c.LandUse = append(c.Desirable, byte(r.desirable)), append(c.LandUse, byte(r.site.landUse))
	c.Soil, c.Bark = append(c.Soil, byte(r.soil)), append(c.Bark, byte(r.bark))
	c.RootCheck, c.SeedBearing = append(c.RootCheck, byte(r.rootCheck)), append(c.SeedBearing, byte(r.seed))
	c.SlopePermille = append(c.SlopePermille, r.slope*10)
	addWater(c.stream, r.stream, r.streamFrom)
	addWater(c.wetland, r.wetland, r.wetlandFrom)
	addWater(c.well, r.well, r.wellFrom)
	c.OtherWaterBeyondUm = append(c.OtherWaterBeyondUm, feet(r.beyond))
	c.LatitudeDeg, c.LongitudeDeg = append(c.LatitudeDeg, degrees(r.latitude)), append(c.LongitudeDeg, degrees(r.longitude))
	c.CoordinateUncertaintyUm = append(c.CoordinateUncertaintyUm, r.uncertainty*int64(quantity.Metre))
}

func addWater(c *treatmentv1.WaterColumn, distance int64, from commonv1.DistanceOrigin) {
	c.DistanceUm, c.Origin = append(c.DistanceUm, feet(distance)), append(c.Origin, byte(from))
}

// message closes the chunk.
func (c *columns) message() *treatmentv1.StemChunk {
	c.StemIds = string(c.ids)
	c.Water = []*treatmentv1.WaterColumn{c.stream, c.wetland, c.well}
	return c.StemChunk
}

func appendID(b []byte, number int64) []byte { return fmt.Appendf(b, "m-%010d", number) }

func known(v, unit int64) int64 {
	if v == absent {
		return absent
	}
	return v * unit
}

const squareMillimetres = 1_000_000 // of a square metre

// tenths gives tenths of an inch in micrometres, which are whole.
func tenths(v int64) int64 { return known(v, int64(quantity.Inch)/10) }

func feet(v int64) int64 { return known(v, int64(quantity.Foot)) }

func degrees(millionths int64) float64 { return float64(millionths) / 1e6 }
