// Package demo invents the demo inventory: sites, stems and patches of a state
// and a watershed district that do not exist, in the mid North Atlantic. Every
// number in it is made up to show something; none was measured. It is separate
// from the product so that the product does not make its own test input.
package demo

import (
	"math"
	"strconv"
)

// site is a piece of ground, taken as a square about its middle.
type site struct {
	place, areaAc       string
	latitude, longitude float64
	landUse             string
}

const (
	velmora    = "us/velmora"             // the state alone
	osselCreek = "us/velmora/ossel-creek" // a watershed district of it
	lowerFen   = "us/velmora/lower-fen"   // a district whose rules nobody wrote
)

var sites = map[string]site{
	"mill-meadow":  {velmora, "6", 43.0040, -38.0100, "forest"},
	"quarry-rim":   {velmora, "12", 43.0120, -38.0180, "non_crop"},
	"north-siding": {velmora, "2.4", 43.0180, -37.9950, "right_of_way"},
	"ferry-lane":   {velmora, "0.3", 42.9960, -38.0040, "forest"},
	"wind-row":     {velmora, "0.05", 42.9930, -38.0200, "non_crop"},
	"ossel-bank":   {osselCreek, "3.5", 43.0060, -37.9820, "aquatic_margin"},
	"heron-bend":   {osselCreek, "5", 43.0100, -37.9760, "forest"},
	"chapel-slope": {osselCreek, "1.2", 43.0150, -37.9700, "park"},
	"alder-ford":   {osselCreek, "8", 42.9990, -37.9740, "pasture_grazed"},
	"fen-landing":  {lowerFen, "2", 42.9880, -37.9600, "forest"},
}

// Lengths of a degree at 43 N on WGS 84, in metres: over these few kilometres
// an area made with them is right to 0.1 %.
const (
	metresNorth  = 111_093.0
	metresEast   = 81_541.0
	squareMetres = 4046.8564224 // of an acre
)

// sideMetres is the side of a square of so many acres.
func sideMetres(acres string) float64 {
	v, err := strconv.ParseFloat(acres, 64)
	if err != nil {
		panic("demo: an area in the tables is no number: " + acres)
	}
	return math.Sqrt(v * squareMetres)
}
