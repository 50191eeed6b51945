// Package many invents inventories of any size: the same seed gives the same rows,
// one after another, in memory that does not grow with their number. The place is
// the demo's, which does not exist, and no row was measured. It is separate from
// the product so that the product does not make its own test input.
package many

import (
	"fmt"

	"google.golang.org/genproto/googleapis/type/date"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
)

// The day of treatment for which inventories are meant: leaves are out, and most
// methods are open.
const Date = "2026-08-10"

var day = &date.Date{Year: 2026, Month: 8, Day: 10}

// perSite is how many rows a site has: 10 million rows stay well under the 100,000
// sites that one stream takes.
const perSite = 2_000

// site is a piece of ground of one kind.
type site struct {
	name, place string
	acres       float64 // wide enough that no annual maximum is reached
	latitude    int64   // of its middle, millionths of a degree
	longitude   int64
	landUse     commonv1.LandUse
	origin      commonv1.DistanceOrigin // from which the law of the place counts
}

const (
	bankTop   = commonv1.DistanceOrigin_DISTANCE_ORIGIN_BANK_TOP
	waterEdge = commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE
)

// kindsOfSite are the demo's sites, by which those of an inventory are named in turn.
var kindsOfSite = []site{
	{"mill-meadow", "us/velmora", 160, 43_004_000, -38_010_000, commonv1.LandUse_LAND_USE_FOREST, waterEdge},
	{"ossel-bank", "us/velmora/ossel-creek", 120, 43_006_000, -37_982_000, commonv1.LandUse_LAND_USE_AQUATIC_MARGIN, bankTop},
	{"quarry-rim", "us/velmora", 140, 43_012_000, -38_018_000, commonv1.LandUse_LAND_USE_NON_CROP, waterEdge},
	{"heron-bend", "us/velmora/ossel-creek", 130, 43_010_000, -37_976_000, commonv1.LandUse_LAND_USE_FOREST, bankTop},
	{"north-siding", "us/velmora", 150, 43_018_000, -37_995_000, commonv1.LandUse_LAND_USE_RIGHT_OF_WAY, waterEdge},
	{"alder-ford", "us/velmora/ossel-creek", 180, 42_999_000, -37_974_000, commonv1.LandUse_LAND_USE_PASTURE_GRAZED, bankTop},
	{"chapel-slope", "us/velmora/ossel-creek", 125, 43_015_000, -37_970_000, commonv1.LandUse_LAND_USE_PARK, bankTop},
}

// lawless is in a district without a rule set; every so-many-th site is like it.
var lawless = site{"fen-landing", "us/velmora/lower-fen", 145, 42_988_000, -37_960_000, commonv1.LandUse_LAND_USE_FOREST, waterEdge}

const lawlessEvery = 23

// siteOf is the site with an index from 0.
func siteOf(index int64) (kind *site, id string) {
	kind = &kindsOfSite[index%int64(len(kindsOfSite))]
	if index%lawlessEvery == lawlessEvery-1 {
		kind = &lawless
	}
	return kind, fmt.Sprintf("%s-%05d", kind.name, index+1)
}

// Begin is the beginning of a stream of so many rows: their sites and the day.
func Begin(rows int64) *treatmentv1.StreamBegin {
	begin := &treatmentv1.StreamBegin{Date: day}
	for index := range (rows + perSite - 1) / perSite {
		kind, id := siteOf(index)
		begin.Sites = append(begin.Sites, &treatmentv1.Site{
			SiteId: id, Place: kind.place, AreaM2: new(quantity.Acres(kind.acres).SquareMetres()),
		})
	}
	return begin
}
