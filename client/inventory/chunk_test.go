package inventory_test

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"example.org/rootward/client/inventory"
	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
)

// chunksOf gathers good records; the chunks are copied, as each is good only
// until the next row.
func chunksOf(t require.TestingT, c *inventory.Chunker, list []*inventory.Record) []*inventory.Chunk {
	var chunks []*inventory.Chunk
	take := func() {
		if k := c.Take(); k != nil {
			k.Stems = proto.Clone(k.Stems).(*treatmentv1.StemChunk)
			chunks = append(chunks, k)
		}
	}
	for _, rec := range list {
		if rec.Rejected() || c.Add(rec) {
			continue
		}
		take()
		require.True(t, c.Add(rec), "an empty chunk has room")
	}
	take()
	return chunks
}

func TestChunkHoldsTheStems(t *testing.T) {
	list := readCSV(t, header+",dbh_in,root_collar_cm,height_ft,individualCount,stem_density_per_ha,infested_area_m2,crown_width_m,larger_count,larger_dbh_in,"+
		"desirable_vegetation,soil_state,slope_percent,distance_well_ft,distance_well_from,distance_lake_m,other_water_beyond_ft,"+
		"lake_state,distance_school_ft,distance_apiary_m,other_places_beyond_m\n"+
		good+",6,,30,,,,,,,none,moist,12.31,50,bank_top,,500,,0,,\n"+
		"a2,Robinia pseudoacacia,s1,us/velmora,shrub,,,,,,,,,,,,,,,,,,,,\n"+
		"a3,Robinia pseudoacacia,s1,us/velmora,sapling,,1,,3,,0.5,6.1,0,4,,,0,,,0.0000019,,dry,,30.0000009,12\n")
	chunks := chunksOf(t, inventory.NewChunker(), list)
	require.Len(t, chunks, 1)
	want := &treatmentv1.StemChunk{
		FirstRow: 1, Words: []string{"s1", "Ailanthus altissima", "Robinia pseudoacacia"}, StemIds: "a1a3", StemIdEnds: []uint32{2, 4},
		Site: []int32{0, 0}, Species: []int32{1, 2},
		Form:       []byte{byte(commonv1.GrowthForm_GROWTH_FORM_TREE), byte(commonv1.GrowthForm_GROWTH_FORM_SAPLING)},
		DiameterUm: []int64{152_400, 10_000}, HeightUm: []int64{9_144_000, -1}, Count: []int64{-1, 3},
		AreaMm2: []int64{-1, 500_000}, CrownWidthUm: []int64{-1, 6_100_000}, LargerCount: []int64{-1, 0}, LargerDiameterUm: []int64{-1, 101_600},
		Desirable:     []byte{byte(commonv1.Desirable_DESIRABLE_NONE), 0},
		Soil:          []byte{byte(commonv1.SoilState_SOIL_STATE_MOIST), 0},
		SlopePermille: []int64{124, 0},
		Water: []*treatmentv1.WaterColumn{
			{WaterClass: commonv1.WaterClass_WATER_CLASS_LAKE, DistanceUm: []int64{-1, 1}, State: []byte{0, byte(commonv1.WaterState_WATER_STATE_DRY)}},
			{WaterClass: commonv1.WaterClass_WATER_CLASS_WELL, DistanceUm: []int64{15_240_000, -1}, Origin: []byte{byte(commonv1.DistanceOrigin_DISTANCE_ORIGIN_BANK_TOP), 0}},
		},
		OtherWaterBeyondUm: []int64{152_400_000, -1},
		Places: []*treatmentv1.PlaceColumn{
			{PlaceClass: commonv1.PlaceClass_PLACE_CLASS_SCHOOL, DistanceUm: []int64{0, -1}},
			{PlaceClass: commonv1.PlaceClass_PLACE_CLASS_APIARY, DistanceUm: []int64{-1, 30_000_000}},
		},
		OtherPlacesBeyondUm: []int64{-1, 12_000_000},
	}
	assert.True(t, proto.Equal(want, chunks[0].Stems), "%v\nwant\n%v", chunks[0].Stems, want)
	assert.Equal(t, []int64{1, 3}, chunks[0].Numbers, "the rejected row 2 is not in it")
	assert.Equal(t, int64(3), chunks[0].Number(2))
	assert.Zero(t, chunks[0].Number(0))
	assert.Zero(t, chunks[0].Number(3))
}

func TestChunksAreNumberedThrough(t *testing.T) {
	list := readCSV(t, string(inventoryOf(40_000)))
	chunks := chunksOf(t, inventory.NewChunker(), list)
	require.Len(t, chunks, 3)
	next := int64(1)
	for _, k := range chunks {
		assert.Equal(t, next, k.Stems.FirstRow)
		assert.Equal(t, next, k.Numbers[0])
		next += int64(columnar.Rows(k.Stems))
	}
	assert.Equal(t, int64(40_001), next)
	assert.Len(t, chunks[0].Numbers, 16_384)
}

func TestChunksAreAtMostFourMebibytes(t *testing.T) {
	const most = 4 << 20
	long := func(i int) string { return fmt.Sprintf("%s-%05d", strings.Repeat("i", 194), i) }
	cases := []struct {
		name, columns string
		least         int // of a chunk that is not the last
		row           func(i int) string
	}{
		{"long ids", "", most * 99 / 100, func(i int) string { return strings.Replace(good, "a1", long(i), 1) }},
		{"a site a row", "", most * 97 / 100, func(i int) string {
			return strings.Replace(strings.Replace(good, "a1", strconv.Itoa(i), 1), "s1", long(i), 1)
		}},
		{"a value in the last rows only", ",dbh_in,height_m,slope_percent,distance_well_m,distance_lake_m,distance_ditch_m,infested_area_ha,larger_count", most / 2, func(i int) string {
			id := strings.Replace(good, "a1", long(i)[150:], 1)
			if i%16_000 < 15_990 {
				return id + ",,,,,,,,"
			}
			return id + ",6,3,1,9,9,9,2,1"
		}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var text strings.Builder
			text.WriteString(header + c.columns + "\n")
			for i := range 20_000 {
				text.WriteString(c.row(i) + "\n")
			}
			chunks := chunksOf(t, inventory.NewChunker(), readCSV(t, text.String()))
			rows := 0
			for i, k := range chunks {
				size := proto.Size(k.Stems)
				assert.LessOrEqual(t, size, most)
				if i < len(chunks)-1 && len(k.Numbers) < 16_384 {
					assert.Greater(t, size, c.least, "no chunk is closed long before it is full")
				}
				rows += len(k.Numbers)
			}
			assert.Equal(t, 20_000, rows)
			assert.Greater(t, len(chunks), 1)
		})
	}
}

func TestChunkerRefusesRejectedRecords(t *testing.T) {
	rec := rowOf(t, "dbh_in", "6 in")
	assert.Panics(t, func() { inventory.NewChunker().Add(rec) })
	assert.Nil(t, inventory.NewChunker().Take())
}

// A chunk says what its stems say, whatever the chunker held before.
func TestChunksSayWhatTheStemsSay(t *testing.T) {
	chunker := inventory.NewChunker()
	row := int64(1)
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Custom(drawRecord), 1, 30).Draw(t, "records")
		chunks := chunksOf(t, chunker, list)
		require.Len(t, chunks, 1)
		k := chunks[0].Stems
		require.Equal(t, row, k.FirstRow)
		row += int64(len(list))
		for i, rec := range list {
			got := stemOf(k, i)
			require.True(t, proto.Equal(rec.Stem, got), "%v, want %v", got, rec.Stem)
			require.Equal(t, rec.SiteID, k.Words[k.Site[i]])
			require.Equal(t, rec.Number, chunks[0].Numbers[i])
		}
	})
}

func drawRecord(t *rapid.T) *inventory.Record {
	some := func(label string, least int64, unit float64) *float64 {
		if !rapid.Bool().Draw(t, "has "+label) {
			return nil
		}
		v := float64(rapid.Int64Range(least, 4_000_000).Draw(t, label)) / unit
		return &v
	}
	count := func(label string, least int64) *int64 {
		if v := some(label, least, 1); v != nil {
			n := int64(*v)
			return &n
		}
		return nil
	}
	word := func(label string, n int) int { return rapid.IntRange(0, n).Draw(t, label) }
	s := &treatmentv1.Stem{
		StemId:         rapid.StringMatching(`[a-z]{1,9}`).Draw(t, "id"),
		ScientificName: rapid.SampledFrom([]string{"Ailanthus altissima", "Robinia pseudoacacia"}).Draw(t, "species"),
		Form:           commonv1.GrowthForm(1 + word("form", 5)),
		DiameterCm:     some("diameter", 1, 1e4), HeightM: some("height", 1, 1e6), Count: count("count", 1),
		StemDensityPerHa: some("density", 1, 1), AreaM2: some("area", 1, 1e6), CrownWidthM: some("crown", 1, 1e6),
		LargerCount: count("larger", 0), LargerDiameterCm: some("larger diameter", 1, 1e4),
		Desirable: commonv1.Desirable(word("desirable", 3)), LandUse: commonv1.LandUse(word("land use", 8)),
		Soil: commonv1.SoilState(word("soil", 4)), Bark: commonv1.BarkState(word("bark", 3)),
		RootCheck: commonv1.RootCheck(word("root", 3)), SeedBearing: commonv1.YesNo(word("seed", 2)),
		OtherWaterBeyondM: some("other water", 0, 1e6), OtherPlacesBeyondM: some("other places", 0, 1e6),
	}
	if v := some("slope", 0, 1); v != nil {
		slope := float64(int64(*v)%10_001) / 10
		s.SlopePercent = &slope
	}
	for class := 1; class <= len(rules.Words[rules.WaterClass]()); class++ {
		if d := some("water", 0, 1e6); d != nil {
			s.WaterDistances = append(s.WaterDistances, &commonv1.WaterDistance{
				WaterClass: commonv1.WaterClass(class), DistanceM: *d, Origin: commonv1.DistanceOrigin(word("origin", 3)), State: commonv1.WaterState(word("state", 2)),
			})
		}
	}
	for class := 1; class <= len(rules.Words[rules.PlaceClass]()); class++ {
		if d := some("place", 0, 1e6); d != nil {
			s.PlaceDistances = append(s.PlaceDistances, &commonv1.PlaceDistance{PlaceClass: commonv1.PlaceClass(class), DistanceM: *d})
		}
	}
	return &inventory.Record{
		Number: rapid.Int64Range(1, 1<<40).Draw(t, "number"), Stem: s,
		SiteID: rapid.SampledFrom([]string{"north-rim", "south-rim"}).Draw(t, "site"),
	}
}

// stemOf reads a row of a chunk by what the API says of its columns.
func stemOf(k *treatmentv1.StemChunk, i int) *treatmentv1.Stem {
	number := func(column []int64, unit float64) *float64 {
		if len(column) == 0 || column[i] < 0 {
			return nil
		}
		v := float64(column[i]) / unit
		return &v
	}
	count := func(column []int64) *int64 {
		if len(column) == 0 || column[i] < 0 {
			return nil
		}
		return &column[i]
	}
	s := &treatmentv1.Stem{
		StemId: columnar.ID(k, i), ScientificName: k.Words[k.Species[i]], Form: commonv1.GrowthForm(k.Form[i]),
		DiameterCm: number(k.DiameterUm, 1e4), HeightM: number(k.HeightUm, 1e6), Count: count(k.Count),
		StemDensityPerHa: number(k.StemsPerHa, 1), AreaM2: number(k.AreaMm2, 1e6), CrownWidthM: number(k.CrownWidthUm, 1e6),
		LargerCount: count(k.LargerCount), LargerDiameterCm: number(k.LargerDiameterUm, 1e4),
		Desirable: commonv1.Desirable(at(k.Desirable, i)), LandUse: commonv1.LandUse(at(k.LandUse, i)), Soil: commonv1.SoilState(at(k.Soil, i)), Bark: commonv1.BarkState(at(k.Bark, i)),
		RootCheck: commonv1.RootCheck(at(k.RootCheck, i)), SeedBearing: commonv1.YesNo(at(k.SeedBearing, i)),
		SlopePercent: number(k.SlopePermille, 10), OtherWaterBeyondM: number(k.OtherWaterBeyondUm, 1e6),
		OtherPlacesBeyondM: number(k.OtherPlacesBeyondUm, 1e6),
	}
	for _, w := range k.Water {
		if d := number(w.DistanceUm, 1e6); d != nil {
			s.WaterDistances = append(s.WaterDistances, &commonv1.WaterDistance{WaterClass: w.WaterClass, DistanceM: *d, Origin: commonv1.DistanceOrigin(at(w.Origin, i)), State: commonv1.WaterState(at(w.State, i))})
		}
	}
	for _, p := range k.Places {
		if d := number(p.DistanceUm, 1e6); d != nil {
			s.PlaceDistances = append(s.PlaceDistances, &commonv1.PlaceDistance{PlaceClass: p.PlaceClass, DistanceM: *d})
		}
	}
	return s
}

func at[T any](column []T, i int) (v T) {
	if len(column) > 0 {
		v = column[i]
	}
	return v
}
