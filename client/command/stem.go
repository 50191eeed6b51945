package command

import (
	"errors"
	"fmt"
	"math"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
)

// stem is one stem or patch, by flags.
type stem struct {
	Species string                 `required:"" placeholder:"NAME" help:"Scientific name; see the command catalogue."`
	Form    word[rules.GrowthForm] `required:"" placeholder:"WORD" help:"What stands there: ${forms}."`

	DbhIn        *float64 `xor:"diameter" placeholder:"N" help:"Diameter at breast height (4.5 ft) in inches."`
	DbhCm        *float64 `xor:"diameter" placeholder:"N" help:"The same in centimetres."`
	GirthIn      *float64 `xor:"diameter" placeholder:"N" help:"Girth at breast height in inches."`
	GirthCm      *float64 `xor:"diameter" placeholder:"N" help:"The same in centimetres."`
	RootCollarIn *float64 `xor:"diameter" placeholder:"N" help:"Diameter at the root collar in inches, of a stem too small for breast height or of a stump."`
	RootCollarCm *float64 `xor:"diameter" placeholder:"N" help:"The same in centimetres."`
	HeightFt     *float64 `xor:"height" placeholder:"N" help:"Height in feet."`
	HeightM      *float64 `xor:"height" placeholder:"N" help:"Height in metres."`
	Count        *int64   `placeholder:"N" help:"How many stems it stands for. Default: 1, or by density and area."`

	StemDensityPerAc *float64 `xor:"density" placeholder:"N" help:"Stems per acre of a patch."`
	StemDensityPerHa *float64 `xor:"density" placeholder:"N" help:"Stems per hectare of a patch."`
	AreaAc           *float64 `xor:"area" placeholder:"N" help:"Area of a patch in acres."`
	AreaM2           *float64 `name:"area-m2" xor:"area" placeholder:"N" help:"Area of a patch in square metres."`
	CrownWidthFt     *float64 `xor:"crown" placeholder:"N" help:"Width of one crown in feet. Default: half the height."`
	CrownWidthM      *float64 `xor:"crown" placeholder:"N" help:"Width of one crown in metres."`
	LargerCount      *int64   `placeholder:"N" help:"Stems of a patch that are too tall for foliar treatment."`
	LargerDbhIn      *float64 `xor:"larger" placeholder:"N" help:"Their diameter in inches."`
	LargerDbhCm      *float64 `xor:"larger" placeholder:"N" help:"Their diameter in centimetres."`

	Desirable    word[rules.Desirable] `placeholder:"WORD" help:"Where vegetation stands that must live: ${desirables}."`
	LandUse      word[rules.LandUse]   `placeholder:"WORD" help:"What the ground is used for: ${landuses}."`
	Soil         word[rules.SoilState] `placeholder:"WORD" help:"State of the soil: ${soils}."`
	Bark         word[rules.BarkState] `placeholder:"WORD" help:"State of the bark: ${barks}."`
	RootCheck    word[rules.RootCheck] `placeholder:"WORD" help:"What was found when the root was dug at: ${rootchecks}."`
	SeedBearing  word[rules.YesNo]     `placeholder:"WORD" help:"Whether it bears seed: ${yesno}."`
	SlopePercent *float64              `placeholder:"N" help:"Slope of the ground in percent."`

	WaterFt            []string `placeholder:"CLASS=N[:FROM][:STATE]" help:"Distance to water in feet, as perennial_stream=120:bank_top or ditch=20:water_edge:dry. Classes: ${waters}. From: ${origins}. States: ${waterstates}; not stated counts as wet."`
	WaterM             []string `placeholder:"CLASS=N[:FROM]" help:"The same in metres."`
	OtherWaterBeyondFt *float64 `xor:"beyond" placeholder:"N" help:"Water of every other class is no nearer than this, in feet."`
	OtherWaterBeyondM  *float64 `xor:"beyond" placeholder:"N" help:"The same in metres."`

	DistanceFt          []string `placeholder:"CLASS=N" help:"Distance to a place other than water in feet, as school=300; 0 is inside. Classes: ${places}."`
	DistanceM           []string `placeholder:"CLASS=N" help:"The same in metres."`
	OtherPlacesBeyondFt *float64 `xor:"placesbeyond" placeholder:"N" help:"Places of every other class are no nearer than this, in feet."`
	OtherPlacesBeyondM  *float64 `xor:"placesbeyond" placeholder:"N" help:"The same in metres."`
}

// m2PerAcre is the international acre.
const m2PerAcre = 4046.8564224

func (s *stem) proto() (*treatmentv1.Stem, error) {
	water, err := distances(s.WaterFt, s.WaterM, waterDistance)
	places, placesErr := distances(s.DistanceFt, s.DistanceM, placeDistance)
	if err := errors.Join(err, placesErr); err != nil {
		return nil, misuse{err}
	}
	return &treatmentv1.Stem{
		StemId: "stem", ScientificName: s.Species, Form: commonv1.GrowthForm(s.Form.value),
		DiameterCm: s.diameter(), RootCollar: s.RootCollarIn != nil || s.RootCollarCm != nil,
		HeightM: either(s.HeightM, times(s.HeightFt, mPerFoot)), Count: s.Count,
		StemDensityPerHa: either(s.StemDensityPerHa, times(s.StemDensityPerAc, 10_000/m2PerAcre)),
		AreaM2:           either(s.AreaM2, times(s.AreaAc, m2PerAcre)), CrownWidthM: either(s.CrownWidthM, times(s.CrownWidthFt, mPerFoot)),
		LargerCount: s.LargerCount, LargerDiameterCm: either(s.LargerDbhCm, times(s.LargerDbhIn, cmPerInch)),
		Desirable: commonv1.Desirable(s.Desirable.value), LandUse: commonv1.LandUse(s.LandUse.value),
		Soil: commonv1.SoilState(s.Soil.value), Bark: commonv1.BarkState(s.Bark.value), RootCheck: commonv1.RootCheck(s.RootCheck.value),
		SeedBearing: commonv1.YesNo(s.SeedBearing.value), SlopePercent: s.SlopePercent, WaterDistances: water,
		OtherWaterBeyondM: either(s.OtherWaterBeyondM, times(s.OtherWaterBeyondFt, mPerFoot)), PlaceDistances: places,
		OtherPlacesBeyondM: either(s.OtherPlacesBeyondM, times(s.OtherPlacesBeyondFt, mPerFoot)),
	}, nil
}

func (s *stem) diameter() *float64 {
	return either(s.DbhCm, times(s.DbhIn, cmPerInch), times(s.GirthCm, 1/math.Pi), times(s.GirthIn, cmPerInch/math.Pi),
		s.RootCollarCm, times(s.RootCollarIn, cmPerInch))
}

// either gives the first that is stated.
func either(list ...*float64) *float64 {
	for _, v := range list {
		if v != nil {
			return v
		}
	}
	return nil
}

// distances reads flags in feet and in metres; read is told how many metres the unit is.
func distances[T any](inFeet, inMetres []string, read func(flag string, metres float64) (T, error)) ([]T, error) {
	var list []T
	var faults []error
	add := func(flags []string, metres float64) {
		for _, flag := range flags {
			d, err := read(flag, metres)
			list, faults = append(list, d), append(faults, err)
		}
	}
	add(inFeet, mPerFoot)
	add(inMetres, 1)
	return list, errors.Join(faults...)
}

// waterDistance reads CLASS=N, with the origin of the distance and the state of the
// water behind it, each after a colon.
func waterDistance(flag string, metres float64) (*commonv1.WaterDistance, error) {
	what := fmt.Sprintf("distance to water %q", flag)
	class, rest, found := strings.Cut(flag, "=")
	if !found {
		return nil, errors.New(what + " is not CLASS=N, CLASS=N:FROM or CLASS=N:FROM:STATE")
	}
	c, err := rules.ParseWord[rules.WaterClass](class)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	parts := strings.Split(rest, ":")
	distance, err := positiveOrZero(parts[0])
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	d := &commonv1.WaterDistance{WaterClass: commonv1.WaterClass(c), DistanceM: distance * metres}
	for _, part := range parts[1:] {
		if err := qualify(d, part); err != nil {
			return nil, fmt.Errorf("%s: %w", what, err)
		}
	}
	return d, nil
}

// qualify states where a distance to water starts, or whether the water is dry.
func qualify(d *commonv1.WaterDistance, text string) error {
	if state, err := rules.ParseWord[rules.WaterState](text); err == nil && d.State == 0 {
		d.State = commonv1.WaterState(state)
		return nil
	}
	origin, err := rules.ParseWord[rules.DistanceOrigin](text)
	switch {
	case err != nil:
		return fmt.Errorf("%w, nor of %s", err, words[rules.WaterState]())
	case d.Origin != 0 || origin == 0:
		return fmt.Errorf("%q is one word too many", text)
	}
	d.Origin = commonv1.DistanceOrigin(origin)
	return nil
}

// placeDistance reads CLASS=N; a unit of N is so many metres.
func placeDistance(flag string, metres float64) (*commonv1.PlaceDistance, error) {
	class, number, found := strings.Cut(flag, "=")
	if !found {
		return nil, fmt.Errorf("distance to a place %q is not CLASS=N", flag)
	}
	c, err := rules.ParseWord[rules.PlaceClass](class)
	if err != nil {
		return nil, fmt.Errorf("distance to a place %q: %w", flag, err)
	}
	distance, err := positiveOrZero(number)
	if err != nil {
		return nil, fmt.Errorf("distance to a place %q: %w", flag, err)
	}
	return &commonv1.PlaceDistance{PlaceClass: commonv1.PlaceClass(c), DistanceM: distance * metres}, nil
}
