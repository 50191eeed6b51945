package api

import (
	"fmt"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// The numbers of a stem. A stream gives them in the core's unit, a Stem message
// in the field's; both are read, and complained of, in the same words.
var (
	diameter       = centimetres("diameter_cm")
	height         = metres("height_m")
	count          = scaled("count", 1)
	density        = scaled("stem_density_per_ha", 1)
	area           = squareMetres("area_m2")
	crownWidth     = metres("crown_width_m")
	largerCount    = scaled("larger_count", 1).orZero()
	largerDiameter = centimetres("larger_diameter_cm")
	slope          = scaled("slope_percent", 10).orZero()
	otherWater     = metres("other_water_beyond_m").orZero().upTo(maxDistance)
	waterDistance  = metres("distance_m").orZero().upTo(maxDistance)
	otherPlaces    = metres("other_places_beyond_m").orZero().upTo(maxDistance)
	placeDistance  = metres("distance_m").orZero().upTo(maxDistance)
)

// maxDistance bounds distances to water and to places: 1,000 km is a slip of the pen (common
// practice, no source).
const maxDistance = int64(1_000_000 * quantity.Metre)

// row is a row of an inventory as it was read: the stem, and what keeps it from
// being one beside what the core checks by itself.
type row struct {
	stem     treatment.Stem
	position position
	faults
}

// all lists all that is wrong with a row that could not be read, sorted by
// field. What could not be read is told once, not as missing besides.
func (r *row) all(c *treatment.Catalogue) []treatment.FieldFault {
	own := map[string]bool{}
	for _, f := range r.list {
		own[f.Field] = true
	}
	for _, f := range r.stem.Check(c) {
		if !own[f.Field] {
			r.list = append(r.list, f)
		}
	}
	sortByField(r.list)
	return r.list
}

// readStem reads a row from a message.
func readStem(p *treatmentv1.Stem) *row {
	r := &row{}
	r.read(p)
	return r
}

func (r *row) read(p *treatmentv1.Stem) {
	*r = row{stem: treatment.Stem{ID: p.GetStemId(), Species: p.GetScientificName()}}
	r.clipName()
	r.readWords(p)
	r.readNumbers(p)
	for i, w := range p.GetWaterDistances() {
		r.readWater(i, w)
	}
	if beyond, ok := r.real("", otherWater, p.OtherWaterBeyondM); ok {
		r.stem.Water.SetOthers(quantity.Micrometres(beyond))
	}
	r.readPlaces(p)
	r.readPosition(p)
}

// clipName keeps a name of any length out of messages; the core bounds the id.
func (r *row) clipName() { r.stem.Species = r.name("scientific_name", r.stem.Species) }

func (r *row) readWords(p *treatmentv1.Stem) {
	s := &r.stem
	s.Form = word[rules.GrowthForm](&r.faults, "form", p.GetForm())
	s.Desirable = word[rules.Desirable](&r.faults, "desirable", p.GetDesirable())
	s.LandUse = word[rules.LandUse](&r.faults, "land_use", p.GetLandUse())
	s.Soil = word[rules.SoilState](&r.faults, "soil", p.GetSoil())
	s.Bark = word[rules.BarkState](&r.faults, "bark", p.GetBark())
	s.RootCheck = word[rules.RootCheck](&r.faults, "root_check", p.GetRootCheck())
	s.SeedBearing = word[rules.YesNo](&r.faults, "seed_bearing", p.GetSeedBearing())
}

func (r *row) readNumbers(p *treatmentv1.Stem) {
	s := &r.stem
	set(&s.Diameter, r.known(diameter, p.DiameterCm))
	set(&s.Height, r.known(height, p.HeightM))
	set(&s.Count, r.knownWhole(count, p.Count))
	set(&s.PerHectare, r.known(density, p.StemDensityPerHa))
	set(&s.Area, r.known(area, p.AreaM2))
	set(&s.CrownWidth, r.known(crownWidth, p.CrownWidthM))
	set(&s.LargerCount, r.knownWhole(largerCount, p.LargerCount))
	set(&s.LargerDiameter, r.known(largerDiameter, p.LargerDiameterCm))
	s.Slope, s.HasSlope = r.real("", slope, p.SlopePercent)
}

func set[T ~int64](to *T, n int64) { *to = T(n) }

// known gives a number, and zero, which the core reads as "not known", if it is
// absent or wrong.
func (r *row) known(m *measure, v *float64) int64 {
	n, _ := r.real("", m, v)
	return n
}

func (r *row) knownWhole(m *measure, v *int64) int64 {
	if v == nil {
		return 0
	}
	n, _ := r.whole("", m, *v)
	return n
}

func (r *row) readWater(i int, w *commonv1.WaterDistance) {
	path := waterPath(i)
	class := word[rules.WaterClass](&r.faults, path+"water_class", w.GetWaterClass())
	if w.GetWaterClass() == 0 {
		r.add(path+"water_class", "is not stated: use one of %v", rules.Words[rules.WaterClass]())
	}
	distance := w.GetDistanceM()
	um, _ := r.real(path, waterDistance, &distance)
	origin := word[rules.DistanceOrigin](&r.faults, path+"origin", w.GetOrigin())
	state := word[rules.WaterState](&r.faults, path+"state", w.GetState())
	if class == 0 {
		return
	}
	if _, twice := r.stem.Water.Get(class); twice {
		r.add(path+"water_class", "%s is given twice: give the nearest", class)
	}
	r.stem.Water.Set(class, rules.WaterDistance{Distance: quantity.Micrometres(um), Origin: origin, AtLeast: w.GetAtLeast(), State: state})
}

func waterPath(i int) string { return fmt.Sprintf("water_distances[%d].", i) }

func (r *row) readPlaces(p *treatmentv1.Stem) {
	for i, d := range p.GetPlaceDistances() {
		r.readPlace(i, d)
	}
	if beyond, ok := r.real("", otherPlaces, p.OtherPlacesBeyondM); ok {
		r.stem.Places.SetOthers(quantity.Micrometres(beyond))
	}
}

func (r *row) readPlace(i int, p *commonv1.PlaceDistance) {
	path := placePath(i)
	class := word[rules.PlaceClass](&r.faults, path+"place_class", p.GetPlaceClass())
	if p.GetPlaceClass() == 0 {
		r.add(path+"place_class", "is not stated: use one of %v", rules.Words[rules.PlaceClass]())
	}
	distance := p.GetDistanceM()
	um, _ := r.real(path, placeDistance, &distance)
	if class == 0 {
		return
	}
	if _, twice := r.stem.Places.Get(class); twice {
		r.add(path+"place_class", "%s is given twice: give the nearest", class)
	}
	r.stem.Places.Set(class, rules.PlaceDistance{Distance: quantity.Micrometres(um), AtLeast: p.GetAtLeast()})
}

func placePath(i int) string { return fmt.Sprintf("place_distances[%d].", i) }
