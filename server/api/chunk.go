package api

import (
	"fmt"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
)

// maxRows is how many rows one chunk has at most.
const maxRows = 65_536

// notKnown is what stands for "not known" in a column of numbers.
const notKnown = -1

// checkChunk lists what keeps a chunk from being read as rows at all. What is
// wrong with single rows is for their readers.
func checkChunk(c *treatmentv1.StemChunk) error {
	rows := columnar.Rows(c)
	if rows > maxRows {
		return tooMany("chunk.stem_id_ends", rows, maxRows, "send smaller chunks")
	}
	var f faults
	f.unless(rows > 0, "chunk.stem_id_ends", "is empty: send 1 to %d rows", maxRows)
	if at := columnar.CheckIDs(c); at >= 0 {
		f.add(fmt.Sprintf("chunk.stem_id_ends[%d]", at), "is %d, and the ids have %d bytes: say where the row's id ends, behind the one before and not within a character; the last ends with the text", c.GetStemIdEnds()[at], len(c.GetStemIds()))
	}
	const spare = 1_000 // that no row points to
	if words := len(c.GetWords()); words > 2*rows+spare {
		f.add("chunk.words", "has %d words, and %d rows point to %d at most: leave out those that no row points to", words, rows, 2*rows)
		return f.err()
	}
	for i, w := range c.GetWords() {
		if len(w) > maxName {
			f.name(fmt.Sprintf("chunk.words[%d]", i), w)
		}
	}
	f.columns(c, rows)
	f.indexes("chunk.site", c.GetSite(), len(c.GetWords()))
	f.indexes("chunk.species", c.GetSpecies(), len(c.GetWords()))
	f.waterColumns(c.GetWater(), rows)
	f.placeColumns(c.GetPlaces(), rows)
	f.outlines(c.GetOutlines(), rows)
	return f.err()
}

// checkDue says of a chunk whose turn it is not which row is due.
func checkDue(c *treatmentv1.StemChunk, due int64) error {
	var f faults
	f.unless(c.GetFirstRow() == due, "chunk.first_row", "is %d, and row %d is due: send the rows in order, none twice", c.GetFirstRow(), due)
	return f.err()
}

// columns checks that each column has a value a row, or none.
func (f *faults) columns(c *treatmentv1.StemChunk, rows int) {
	f.unless(len(c.GetSite()) == rows, "chunk.site", "has %d values, there are %d rows: give one a row", len(c.GetSite()), rows)
	f.unless(len(c.GetSpecies()) == rows, "chunk.species", "has %d values, there are %d rows: give one a row", len(c.GetSpecies()), rows)
	f.unless(len(c.GetForm()) == rows, "chunk.form", "has %d values, there are %d rows: give one a row", len(c.GetForm()), rows)
	for _, column := range []struct {
		name string
		n    int
	}{
		{"diameter_um", len(c.GetDiameterUm())}, {"height_um", len(c.GetHeightUm())}, {"count", len(c.GetCount())},
		{"stems_per_ha", len(c.GetStemsPerHa())}, {"area_mm2", len(c.GetAreaMm2())}, {"crown_width_um", len(c.GetCrownWidthUm())},
		{"larger_count", len(c.GetLargerCount())}, {"larger_diameter_um", len(c.GetLargerDiameterUm())},
		{"desirable", len(c.GetDesirable())}, {"land_use", len(c.GetLandUse())}, {"soil", len(c.GetSoil())},
		{"bark", len(c.GetBark())}, {"root_check", len(c.GetRootCheck())}, {"seed_bearing", len(c.GetSeedBearing())},
		{"slope_permille", len(c.GetSlopePermille())}, {"other_water_beyond_um", len(c.GetOtherWaterBeyondUm())},
		{"other_places_beyond_um", len(c.GetOtherPlacesBeyondUm())},
		{"latitude_deg", len(c.GetLatitudeDeg())}, {"longitude_deg", len(c.GetLongitudeDeg())},
		{"coordinate_uncertainty_um", len(c.GetCoordinateUncertaintyUm())},
	} {
		f.column("chunk."+column.name, column.n, rows)
	}
}

func (f *faults) column(field string, n, rows int) {
	f.unless(n == 0 || n == rows, field, "has %d values, there are %d rows: give one a row, or leave the column empty", n, rows)
}

// indexes checks that a column points into words, and names the first that does not.
func (f *faults) indexes(field string, column []int32, words int) {
	for i, at := range column {
		if at < notKnown || int(at) >= words {
			f.add(fmt.Sprintf("%s[%d]", field, i), "is %d, and there are %d words: point to 0 to %d, or to -1 where it is not known", at, words, words-1)
			return
		}
	}
}

func (f *faults) waterColumns(list []*treatmentv1.WaterColumn, rows int) {
	var seen rules.OneOf[rules.WaterClass]
	for i, w := range list {
		path := fmt.Sprintf("chunk.water[%d].", i)
		class := word[rules.WaterClass](f, path+"water_class", w.GetWaterClass())
		f.unless(w.GetWaterClass() != 0, path+"water_class", "is not stated: use one of %v", rules.Words[rules.WaterClass]())
		f.unless(class == 0 || !seen.Has(class), path+"water_class", "%s has a column already: give one a class", class)
		seen |= rules.AnyOf(class)
		f.unless(len(w.GetDistanceUm()) == rows, path+"distance_um", "has %d values, there are %d rows: give one a row", len(w.GetDistanceUm()), rows)
		f.column(path+"origin", len(w.GetOrigin()), rows)
		f.column(path+"at_least", len(w.GetAtLeast()), rows)
		f.column(path+"state", len(w.GetState()), rows)
	}
}

func (f *faults) placeColumns(list []*treatmentv1.PlaceColumn, rows int) {
	var seen rules.OneOf[rules.PlaceClass]
	for i, p := range list {
		path := fmt.Sprintf("chunk.places[%d].", i)
		class := word[rules.PlaceClass](f, path+"place_class", p.GetPlaceClass())
		f.unless(p.GetPlaceClass() != 0, path+"place_class", "is not stated: use one of %v", rules.Words[rules.PlaceClass]())
		f.unless(class == 0 || !seen.Has(class), path+"place_class", "%s has a column already: give one a class", class)
		seen |= rules.AnyOf(class)
		f.unless(len(p.GetDistanceUm()) == rows, path+"distance_um", "has %d values, there are %d rows: give one a row", len(p.GetDistanceUm()), rows)
		f.column(path+"at_least", len(p.GetAtLeast()), rows)
	}
}
