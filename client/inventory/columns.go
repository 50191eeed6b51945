package inventory

import (
	"errors"
	"fmt"
	"math"
	"slices"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Where the names of columns come from.
const (
	darwinCore      = "Darwin Core"
	mappingStandard = "NAISMA mapping standard"
)

// Limits beyond which a value is taken for a slip of the pen. Those of stems are
// the API's, as server/treatment checks them; that of distances is our own, far
// beyond any water or place that a rule is about.
const (
	maxDiameter = 5 * quantity.Metre
	maxHeight   = 120 * quantity.Metre
	maxDistance = 1_000_000 * quantity.Metre
	maxArea     = 100_000 * quantity.Hectare
	maxDensity  = 10_000_000
	maxCount    = 1_000_000_000
)

var (
	columns      = slices.Concat(identity, siteColumns, survey, footprint, sizes, patches, condition, waters(), places(), kept)
	columnByName = index(columns)
	required     = requiredOf(columns)
	waterClasses = rules.Words[rules.WaterClass]()
	placeClasses = rules.Words[rules.PlaceClass]()
)

// Columns lists every column that an inventory can have, in the order of the
// documents.
func Columns() []Column {
	list := make([]Column, len(columns))
	for i, c := range columns {
		list[i] = *c
	}
	return list
}

func index(columns []*Column) map[string]*Column {
	byName := make(map[string]*Column, len(columns))
	for _, c := range columns {
		byName[c.Name] = c
	}
	return byName
}

func requiredOf(columns []*Column) []*Column {
	var list []*Column
	for _, c := range columns {
		if c.Required {
			c.bit = 1 << len(list)
			list = append(list, c)
		}
	}
	return list
}

var identity = []*Column{
	named(Column{Name: "occurrenceID", Required: true, Term: darwinCore, Meaning: "your id of the row, no other row's"},
		func(r *row, text string) { r.Stem.StemId = text }).quickly(func(q *quick) *int { return &q.id }),
	named(Column{Name: "scientificName", Required: true, Term: darwinCore, Meaning: "species, as the catalogue names it"},
		func(r *row, text string) { r.Stem.ScientificName = text }).quickly(func(q *quick) *int { return &q.species }),
	worded(Column{Name: "form", Required: true, into: colForm, Meaning: "what stands there"},
		func(r *row, v rules.GrowthForm) { r.Stem.Form = commonv1.GrowthForm(v) }),
}

var siteColumns = slices.Concat([]*Column{
	siteColumn(named(Column{Name: "locationID", Required: true, Term: darwinCore, Meaning: "id of the site, ground that is treated as one"},
		func(r *row, text string) { r.SiteID = text })),
	siteColumn(place()),
}, measured{
	name: "site_area", id: siteArea, most: int64(maxArea),
	meaning: "the ground that is treated on the site; not the parcel: a larger area would dilute the annual maximum; without it no herbicide is prescribed",
	set: func(r *row, v int64) {
		r.siteArea = quantity.SquareMillimetres(v)
		r.SiteAreaM2 = r.number(r.siteArea.SquareMetres())
	},
}.in(acres, hectares, squareMetres), sitePosition)

func siteColumn(c *Column) *Column {
	c.site = true
	return c
}

func place() *Column {
	c := named(Column{Name: "place", Required: true, Meaning: "place whose law governs, the widest first, as us/velmora/ossel-creek"},
		func(r *row, text string) { r.Place = text })
	short := c.read
	c.read = func(r *row, text string) error {
		if text != r.lastPlace && !placePattern.MatchString(text) {
			return errors.New("is not a place; write lower-case names of letters, digits and hyphens, the widest first, as us/velmora/ossel-creek")
		}
		r.lastPlace = text
		return short(r, text)
	}
	return c
}

// sitePosition is where the site lies; the API holds the same limits.
var sitePosition = []*Column{
	siteColumn(ranged(Column{Name: "site_latitude_deg", Unit: "degrees, WGS 84", quantity: siteLatitude, Meaning: "latitude of the site, north above 0; windows that a place computes for each site need it"},
		-90, 90, func(r *row, v float64) { r.siteFacts[atLatitude] = r.number(v) })),
	siteColumn(ranged(Column{Name: "site_longitude_deg", Unit: "degrees, WGS 84", quantity: siteLongitude, Meaning: "longitude of the site, east above 0"},
		-180, 180, func(r *row, v float64) { r.siteFacts[atLongitude] = r.number(v) })),
	siteColumn(ranged(Column{Name: "site_elevation_ft", Unit: "feet", quantity: siteElevation, Meaning: elevationMeaning},
		math.Ceil(minElevation.Feet()), math.Floor(maxElevation.Feet()), func(r *row, v float64) { r.siteFacts[atElevation] = r.number(v * quantity.Foot.Metres()) })),
	siteColumn(ranged(Column{Name: "site_elevation_m", Unit: "metres", quantity: siteElevation, Meaning: elevationMeaning},
		minElevation.Metres(), maxElevation.Metres(), func(r *row, v float64) { r.siteFacts[atElevation] = r.number(v) })),
}

const (
	elevationMeaning = "height of the site above sea level"

	minElevation = -500 * quantity.Metre
	maxElevation = 9_000 * quantity.Metre
)

var survey = []*Column{
	degrees(latitude, "decimalLatitude", "latitude of the stem; distances to water are computed from it where the server has water layers", 90, func(r *row, v float64, text string) { r.lat, r.latText = r.number(v), text }),
	degrees(longitude, "decimalLongitude", "longitude", 180, func(r *row, v float64, text string) { r.lon, r.lonText = r.number(v), text }),
	{
		Name: "coordinateUncertaintyInMeters", Type: "number above 0, at most 1000000", Unit: "metres", Term: darwinCore,
		Meaning: "radius around the position within which every stem of the row stands; where neither it nor --coordinate-uncertainty- states it, no distance to water is computed", read: readUncertainty, plain: plainUncertainty, into: nowhere, quick: func(q *quick) *int { return &q.uncertainty },
	},
	{Name: "eventDate", Type: "date YYYY-MM-DD", Term: darwinCore, Meaning: "day of the survey", read: readSurveyed, plain: checked(readSurveyed), into: nowhere},
	{
		Name: "occurrenceStatus", Type: "one of present, absent", Term: darwinCore,
		Meaning: "a row that says absent is refused: nothing needs a prescription there", read: readStatus, plain: checked(readStatus), into: nowhere,
	},
	among(Column{Name: "degreeOfEstablishment", Term: darwinCore, Meaning: "checked for its words; not used"},
		"native", "captive", "cultivated", "released", "failing", "casual", "reproducing", "established",
		"colonising", "invasive", "widespreadInvasive"),
	{
		Name: "occurrenceRemarks", Type: "text", Term: darwinCore, Meaning: "remarks, handed through",
		read: func(r *row, text string) error { r.Remarks = text; return nil }, unread: true,
	},
}

func readUncertainty(r *row, text string) error {
	v, err := decimal(text)
	if err == nil && v <= 0 {
		err = errors.New("is not above 0; leave the field empty where the uncertainty is not known")
	}
	if err == nil && v > maxDistance.Metres() {
		err = errors.New("is more than 1000000 metres; leave the field empty where the uncertainty is not known")
	}
	if err == nil {
		r.Uncertainty = r.number(v)
	}
	return err
}

// plainUncertainty gives the bits of a number of metres.
func plainUncertainty(text []byte) (int64, bool) {
	v, ok := plainDecimal(text)
	return int64(math.Float64bits(v)), ok && v > 0 && v <= maxDistance.Metres()
}

func readSurveyed(r *row, text string) error {
	on, err := civil.Parse(text)
	if err != nil {
		return errors.New("is not a day of the calendar written YYYY-MM-DD; give the day alone, without a time")
	}
	r.Surveyed = on
	return nil
}

func readStatus(_ *row, text string) error {
	switch text {
	case "present":
		return nil
	case "absent":
		return errors.New("says that nothing stands there, and an absence needs no prescription; take the row out of the inventory")
	}
	return errors.New("is not one of present, absent")
}

var sizes = slices.Concat(
	measured{
		name: "dbh", id: diameter, most: int64(maxDiameter), meaning: "diameter at breast height",
		set: func(r *row, v int64) { r.Stem.DiameterCm = r.number(quantity.Micrometres(v).Centimetres()) },
	}.in(inches, centimetres),
	measured{
		name: "girth", id: diameter, most: int64(maxDiameter), meaning: "girth at breast height; divided by pi",
		set: func(r *row, v int64) { r.Stem.DiameterCm = r.number(quantity.Micrometres(v).Centimetres()) },
	}.in(girthInches, girthCentimetres),
	measured{
		name: "root_collar", id: diameter, most: int64(maxDiameter), meaning: "diameter at the root collar, of a stem that has none at breast height",
		set: func(r *row, v int64) {
			r.Stem.DiameterCm, r.Stem.RootCollar = r.number(quantity.Micrometres(v).Centimetres()), true
		},
	}.in(inches, centimetres),
	measured{
		name: "height", id: height, most: int64(maxHeight), meaning: "height",
		set: func(r *row, v int64) { r.Stem.HeightM = r.number(quantity.Micrometres(v).Metres()) },
	}.in(feet, metres),
	measured{
		name: "crown_width", id: crownWidth, most: int64(maxHeight), meaning: "width of one crown",
		set: func(r *row, v int64) { r.Stem.CrownWidthM = r.number(quantity.Micrometres(v).Metres()) },
	}.in(feet, metres),
)

var patches = slices.Concat(
	[]*Column{counted(Column{Name: "individualCount", into: colCount, Term: darwinCore, Meaning: "stems that the row stands for; 1 where neither this nor a density is given"},
		1, func(r *row, v int64) { r.Stem.Count = new(v) })},
	measured{
		name: "stem_density", id: density, most: maxDensity, meaning: "stems of a patch by its area; rounded up to a whole number per hectare",
		set: func(r *row, v int64) { r.Stem.StemDensityPerHa = r.number(float64(v)) },
	}.in(perAcre, perHectare),
	measured{
		name: "infested_area", id: patchArea, most: int64(maxArea), term: mappingStandard, meaning: "area of a patch",
		set: func(r *row, v int64) { r.Stem.AreaM2 = r.number(quantity.SquareMillimetres(v).SquareMetres()) },
	}.in(acres, hectares, squareMetres, squareFeet),
	[]*Column{counted(Column{Name: "larger_count", into: colLargerCount, Meaning: "stems of the patch that are too tall for foliar treatment"},
		0, func(r *row, v int64) { r.Stem.LargerCount = new(v) })},
	measured{
		name: "larger_dbh", id: largerDiameter, most: int64(maxDiameter), meaning: "their diameter at breast height",
		set: func(r *row, v int64) { r.Stem.LargerDiameterCm = r.number(quantity.Micrometres(v).Centimetres()) },
	}.in(inches, centimetres),
)

func counted(c Column, least int64, set func(r *row, v int64)) *Column {
	c.Type = fmt.Sprintf("whole number %d to %d", least, int64(maxCount))
	c.Unit = "stems"
	c.read = func(r *row, text string) error {
		v, err := wholeNumber(text, least, maxCount)
		if err == nil {
			set(r, v)
		}
		return err
	}
	c.plain = func(text []byte) (int64, bool) {
		v, ok := plainWhole(text)
		return v, ok && v >= least && v <= maxCount
	}
	return &c
}

var condition = []*Column{
	worded(Column{Name: "desirable_vegetation", into: colDesirable, Meaning: "where vegetation stands that must live; not stated keeps out every method that could hit it"},
		func(r *row, v rules.Desirable) { r.Stem.Desirable = commonv1.Desirable(v) }),
	worded(Column{Name: "land_use", into: colLandUse, Meaning: "what the ground is used for"},
		func(r *row, v rules.LandUse) { r.Stem.LandUse = commonv1.LandUse(v) }),
	worded(Column{Name: "soil_state", into: colSoil, Meaning: "the soil on the day of the survey"},
		func(r *row, v rules.SoilState) { r.Stem.Soil = commonv1.SoilState(v) }),
	worded(Column{Name: "bark_state", into: colBark, Meaning: "the bark on the day of the survey"},
		func(r *row, v rules.BarkState) { r.Stem.Bark = commonv1.BarkState(v) }),
	worded(Column{Name: "root_check", into: colRootCheck, Meaning: "what was found when the root was dug at"},
		func(r *row, v rules.RootCheck) { r.Stem.RootCheck = commonv1.RootCheck(v) }),
	worded(Column{Name: "seed_bearing", into: colSeedBearing, Meaning: "whether the stem bears seed"},
		func(r *row, v rules.YesNo) { r.Stem.SeedBearing = commonv1.YesNo(v) }),
	measured{
		name: "slope", id: slope, unit: unit{"percent", func(v float64) int64 { return saturate(nextUp(v * 10)) }}, most: 10_000, zero: true,
		meaning: "slope of the ground, rise over run; rounded up to a tenth, the steeper",
		set:     func(r *row, v int64) { r.Stem.SlopePercent = r.number(float64(v) / 10) },
	}.column(),
}

// waters gives the columns of each class of water.
func waters() []*Column {
	var list []*Column
	for _, class := range rules.Words[rules.WaterClass]() {
		name := "distance_" + class.String()
		list = append(list, measured{
			name: name, id: distance + quantityID(class), most: int64(maxDistance), zero: true,
			meaning: "horizontal distance from the nearest edge of what is treated; rounded down to a micrometre, the nearer",
			set:     func(r *row, v int64) { r.water[class].metres = r.number(quantity.Micrometres(v).Metres()) },
		}.in(feetDown, metresDown)...)
		list = append(list, worded(Column{Name: name + "_from", into: colWater + waterColumns*int(class) + 1, Meaning: "where that distance starts; not stated decides no buffer that is counted from a named origin"},
			func(r *row, v rules.DistanceOrigin) { r.water[class].origin = v }))
		list = append(list, worded(Column{Name: class.String() + "_state", into: colWater + waterColumns*int(class) + 2, Meaning: "dry where none of that water within reach of any rule holds water; not stated counts as wet"},
			func(r *row, v rules.WaterState) { r.water[class].state = v }))
	}
	return append(list, measured{
		name: "other_water_beyond", id: otherWater, most: int64(maxDistance), zero: true,
		meaning: "every class of water without a distance is no nearer than this",
		set:     func(r *row, v int64) { r.Stem.OtherWaterBeyondM = r.number(quantity.Micrometres(v).Metres()) },
	}.in(feetDown, metresDown)...)
}

// places gives the columns of each class of places other than water.
func places() []*Column {
	var list []*Column
	for _, class := range rules.Words[rules.PlaceClass]() {
		list = append(list, measured{
			name: "distance_" + class.String(), id: placeDistance + quantityID(class), most: int64(maxDistance), zero: true,
			meaning: "horizontal distance from the nearest edge of what is treated, 0 inside; rounded down to a micrometre, the nearer",
			set:     func(r *row, v int64) { r.places[class] = r.number(quantity.Micrometres(v).Metres()) },
		}.in(feetDown, metresDown)...)
	}
	return append(list, measured{
		name: "other_places_beyond", id: otherPlaces, most: int64(maxDistance), zero: true,
		meaning: "every class of these places without a distance is no nearer than this",
		set:     func(r *row, v int64) { r.Stem.OtherPlacesBeyondM = r.number(quantity.Micrometres(v).Metres()) },
	}.in(feetDown, metresDown)...)
}

var kept = []*Column{
	ignored("country", "country"),
	ignored("stateProvince", "state or province"),
	ignored("county", "county"),
	ignored("recordedBy", "who made the survey"),
	ignored("basisOfRecord", "kind of observation"),
	ignored("establishmentMeans", "how the species came"),
}
