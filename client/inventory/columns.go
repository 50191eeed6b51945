package inventory

import (
	"errors"
	"fmt"
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
// beyond any water that a rule is about.
const (
	maxDiameter = 5 * quantity.Metre
	maxHeight   = 120 * quantity.Metre
	maxDistance = 1_000_000 * quantity.Metre
	maxArea     = 100_000 * quantity.Hectare
	maxDensity  = 10_000_000
	maxCount    = 1_000_000_000
)

var (
	columns      = slices.Concat(identity, siteColumns, survey, sizes, patches, condition, waters(), kept)
	columnByName = index(columns)
	required     = requiredOf(columns)
	waterClasses = rules.Words[rules.WaterClass]()
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
		func(r *row, text string) { r.Stem.StemId = text }),
	named(Column{Name: "scientificName", Required: true, Term: darwinCore, Meaning: "species, as the catalogue names it"},
		func(r *row, text string) { r.Stem.ScientificName = text }),
	worded(Column{Name: "form", Required: true, Meaning: "what stands there"},
		func(r *row, v rules.GrowthForm) { r.Stem.Form = commonv1.GrowthForm(v) }),
}

var siteColumns = append([]*Column{
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
}.in(acres, hectares, squareMetres)...)

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

var survey = []*Column{
	degrees(latitude, "decimalLatitude", "latitude", 90, func(r *row, v float64) { r.lat = r.number(v) }),
	degrees(longitude, "decimalLongitude", "longitude", 180, func(r *row, v float64) { r.lon = r.number(v) }),
	{
		Name: "coordinateUncertaintyInMeters", Type: "number above 0", Unit: "metres", Term: darwinCore,
		Meaning: "radius around the position within which the stem stands", read: readUncertainty,
	},
	{Name: "eventDate", Type: "date YYYY-MM-DD", Term: darwinCore, Meaning: "day of the survey", read: readSurveyed},
	{
		Name: "occurrenceStatus", Type: "one of present, absent", Term: darwinCore,
		Meaning: "a row that says absent is refused: nothing needs a prescription there", read: readStatus,
	},
	among(Column{Name: "degreeOfEstablishment", Term: darwinCore, Meaning: "checked for its words; not used"},
		"native", "captive", "cultivated", "released", "failing", "casual", "reproducing", "established",
		"colonising", "invasive", "widespreadInvasive"),
	{
		Name: "occurrenceRemarks", Type: "text", Term: darwinCore, Meaning: "remarks, handed through",
		read: func(r *row, text string) error { r.Remarks = text; return nil },
	},
}

func readUncertainty(r *row, text string) error {
	v, err := decimal(text)
	if err == nil && v <= 0 {
		err = errors.New("is not above 0; leave the field empty where the uncertainty is not known")
	}
	if err == nil {
		r.Uncertainty = r.number(v)
	}
	return err
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
	[]*Column{counted(Column{Name: "individualCount", Term: darwinCore, Meaning: "stems that the row stands for; 1 where neither this nor a density is given"},
		1, func(r *row, v int64) { r.Stem.Count = new(v) })},
	measured{
		name: "stem_density", id: density, most: maxDensity, meaning: "stems of a patch by its area; rounded up to a whole number per hectare",
		set: func(r *row, v int64) { r.Stem.StemDensityPerHa = r.number(float64(v)) },
	}.in(perAcre, perHectare),
	measured{
		name: "infested_area", id: patchArea, most: int64(maxArea), term: mappingStandard, meaning: "area of a patch",
		set: func(r *row, v int64) { r.Stem.AreaM2 = r.number(quantity.SquareMillimetres(v).SquareMetres()) },
	}.in(acres, hectares, squareMetres, squareFeet),
	[]*Column{counted(Column{Name: "larger_count", Meaning: "stems of the patch that are too tall for foliar treatment"},
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
	return &c
}

var condition = []*Column{
	worded(Column{Name: "desirable_vegetation", Meaning: "where vegetation stands that must live; not stated keeps out every method that could hit it"},
		func(r *row, v rules.Desirable) { r.Stem.Desirable = commonv1.Desirable(v) }),
	worded(Column{Name: "land_use", Meaning: "what the ground is used for"},
		func(r *row, v rules.LandUse) { r.Stem.LandUse = commonv1.LandUse(v) }),
	worded(Column{Name: "soil_state", Meaning: "the soil on the day of the survey"},
		func(r *row, v rules.SoilState) { r.Stem.Soil = commonv1.SoilState(v) }),
	worded(Column{Name: "bark_state", Meaning: "the bark on the day of the survey"},
		func(r *row, v rules.BarkState) { r.Stem.Bark = commonv1.BarkState(v) }),
	worded(Column{Name: "root_check", Meaning: "what was found when the root was dug at"},
		func(r *row, v rules.RootCheck) { r.Stem.RootCheck = commonv1.RootCheck(v) }),
	worded(Column{Name: "seed_bearing", Meaning: "whether the stem bears seed"},
		func(r *row, v rules.YesNo) { r.Stem.SeedBearing = commonv1.YesNo(v) }),
	measured{
		name: "slope", unit: unit{"percent", func(v float64) int64 { return saturate(nextUp(v * 10)) }}, most: 10_000, zero: true,
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
		list = append(list, worded(Column{Name: name + "_from", Meaning: "where that distance starts; not stated decides no buffer that is counted from a named origin"},
			func(r *row, v rules.DistanceOrigin) { r.water[class].origin = v }))
	}
	return append(list, measured{
		name: "other_water_beyond", id: otherWater, most: int64(maxDistance), zero: true,
		meaning: "every class of water without a distance is no nearer than this",
		set:     func(r *row, v int64) { r.Stem.OtherWaterBeyondM = r.number(quantity.Micrometres(v).Metres()) },
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
