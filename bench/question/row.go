package question

import (
	"fmt"
	"slices"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
)

// Column is one of the facts of a row that bear on the question.
type Column int

// The columns. A word is the number of its vocabulary, 0 where it is not stated; a
// number is -1 where it is not known. Lengths are in micrometres.
const (
	Place Column = iota
	Species
	Form
	Desirable
	LandUse
	Soil
	Bark
	RootCheck
	Diameter // 0: what stands in the file is no number
	Height
	Density // stems per hectare
	Slope   // thousandths
	Stream
	StreamFrom
	Wetland
	WetlandFrom
	Well
	WellFrom
	Beyond // water of any other class is no nearer
	Columns
)

// columnNames are those of tables and variables, in the order of the columns.
var columnNames = [Columns]string{
	"place", "species", "form", "desirable", "land_use", "soil", "bark", "root_check", "diameter_um", "height_um",
	"density_ha", "slope_permille", "stream_um", "stream_from", "wetland_um", "wetland_from", "well_um", "well_from", "beyond_um",
}

// String gives the column's name in tables and variables.
func (c Column) String() string { return columnNames[c] }

// Row is the facts of one row, by column.
type Row [Columns]int64

// The places of the demonstration. In the last nobody has activated rules.
const (
	Velmora int64 = iota + 1
	OsselCreek
	LowerFen
)

var placeWords = []string{"", "us/velmora", "us/velmora/ossel-creek", "us/velmora/lower-fen"}

// SpeciesNames are those of the shipped catalogue, from 1 on; 0 is a name that is not
// in it. The first six answer from their roots.
var SpeciesNames = []string{
	"", "Ailanthus altissima", "Robinia pseudoacacia", "Populus alba", "Elaeagnus umbellata", "Elaeagnus angustifolia",
	"Paulownia tomentosa", "Pyrus calleryana", "Rhamnus cathartica", "Frangula alnus", "Lonicera maackii", "Ligustrum sinense",
}

// words gives the words of a column of words, by number, and nil for a column of numbers.
func (c Column) words() []string {
	switch c {
	case Place:
		return placeWords
	case Species:
		return SpeciesNames
	case Form:
		return wordsOf[rules.GrowthForm]()
	case Desirable:
		return wordsOf[rules.Desirable]()
	case LandUse:
		return wordsOf[rules.LandUse]()
	case Soil:
		return wordsOf[rules.SoilState]()
	case Bark:
		return wordsOf[rules.BarkState]()
	case RootCheck:
		return wordsOf[rules.RootCheck]()
	}
	return nil
}

func wordsOf[V interface {
	rules.Vocabulary
	String() string
}]() []string {
	list := []string{""}
	for _, v := range rules.Words[V]() {
		list = append(list, v.String())
	}
	return list
}

// Places gives the place of each site by its id.
func Places(begin *treatmentv1.StreamBegin) (map[string]int64, error) {
	places := map[string]int64{}
	for _, s := range begin.GetSites() {
		at := slices.Index(placeWords, s.GetPlace())
		if at < 1 {
			return nil, fmt.Errorf("site %s lies in %q, of which the bench knows no law", s.GetSiteId(), s.GetPlace())
		}
		places[s.GetSiteId()] = int64(at)
	}
	return places, nil
}

// Rows reads the rows of a chunk.
func Rows(c *treatmentv1.StemChunk, places map[string]int64) []Row {
	rows := make([]Row, columnar.Rows(c))
	species := make([]int64, len(c.GetWords()))
	for i, w := range c.GetWords() {
		species[i] = int64(max(0, slices.Index(SpeciesNames, w)))
	}
	for i := range rows {
		rows[i] = Row{
			Place: places[c.GetWords()[c.GetSite()[i]]], Species: species[c.GetSpecies()[i]],
			Form: int64(c.GetForm()[i]), Desirable: int64(c.GetDesirable()[i]), LandUse: int64(c.GetLandUse()[i]),
			Soil: int64(c.GetSoil()[i]), Bark: int64(c.GetBark()[i]), RootCheck: int64(c.GetRootCheck()[i]),
			Diameter: c.GetDiameterUm()[i], Height: c.GetHeightUm()[i], Density: c.GetStemsPerHa()[i], Slope: c.GetSlopePermille()[i],
			Stream: -1, Wetland: -1, Well: -1, Beyond: c.GetOtherWaterBeyondUm()[i],
		}
		for _, w := range c.GetWater() {
			rows[i].water(rules.WaterClass(w.GetWaterClass()), w.GetDistanceUm()[i], int64(w.GetOrigin()[i]))
		}
	}
	return rows
}

func (r *Row) water(class rules.WaterClass, um, from int64) {
	column := map[rules.WaterClass]Column{rules.PerennialStream: Stream, rules.Wetland: Wetland, rules.Well: Well}[class]
	if um >= 0 {
		r[column], r[column+1] = um, from
	}
}
