// Package open turns the measured stems beside it into an inventory of an
// invented place. It is separate from the product so that nothing of the product
// decides what its own test input is. The README says what is measured and what
// is invented.
package open

// site is what the conversion invents about one measured file.
type site struct {
	id      string // locationID, and the stem of the occurrenceIDs
	file    string
	species string
	areaM2  string
	east    float64 // of the site's origin from the place's, in metres
	north   float64
	stem    func(row []string, index int) (stem, error)
	columns string // the header the file must have
}

// The place is invented: no land lies there.
const (
	place          = "us/velmora"
	placeLatitude  = 43.0
	placeLongitude = -38.0
)

var sites = []site{
	{"longleaf", "longleaf.csv", "Ailanthus altissima", "40000", 0, 0, mapped, "x_m,y_m,dbh_cm"},
	{"waka", "waka.csv", "Robinia pseudoacacia", "10000", 2000, 0, mapped, "x_m,y_m,dbh_cm"},
	{"finpines", "finpines.csv", "Populus alba", "100", 0, 2000, mappedWithHeight, "x_m,y_m,diameter_cm,height_m"},
	{"cherry", "trees.csv", "Pyrus calleryana", "10000", 2000, 2000, unmapped, "girth_in,height_ft,volume_ft3"},
}
