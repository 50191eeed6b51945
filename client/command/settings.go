package command

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
)

// settings are what the crew works with. What is absent takes the server's default.
type settings struct {
	doseSettings
	uncertainty
	Standing       word[rules.Standing]     `placeholder:"WORD" help:"Standing of the applicator: ${standings}. Not stated, what the law asks a standing for is undetermined and not prescribed."`
	Category       []category               `placeholder:"WORD" help:"Category that the applicator is certified in, or the one who supervises is: ${categories}. Not stated, what the law asks a category for is undetermined."`
	DriftControl   word[rules.DriftControl] `placeholder:"WORD" help:"Whether the spray equipment is approved as reducing drift: ${driftcontrols}."`
	Formulation    []string                 `placeholder:"ID" help:"Formulations at hand, by id; see the command catalogue. Default: all of it."`
	TankGal        *float64                 `placeholder:"N" help:"Tank of the backpack sprayer in US gallons. Default: 3."`
	HandgunTankGal *float64                 `placeholder:"N" help:"Tank that feeds the handgun, in US gallons. Default: 100."`
	SparePercent   *float64                 `placeholder:"N" help:"Product to buy beyond the need, in percent. Default: 10."`
}

// doseSettings are those that a dose depends on.
type doseSettings struct {
	CutMl              *float64 `placeholder:"N" help:"Mix per cut in millilitres. Default: 1."`
	WettingMlPerIn2    *float64 `name:"wetting-ml-per-in2" placeholder:"N" help:"Mix on bark in millilitres per square inch; see calibrate weigh. Default: 0.3, a rule of thumb."`
	BasalBandIn        *float64 `placeholder:"N" help:"Height of the basal band in inches, 12 to 18. Default: 15."`
	FoliarReachFt      *float64 `placeholder:"N" help:"Reach of the sprayer above ground in feet. Default: 10."`
	LowVolumeGalPerAc  *float64 `placeholder:"N" help:"Spray of low-volume foliar in gallons per acre; see calibrate walk. Default: 20."`
	HighVolumeGalPerAc *float64 `placeholder:"N" help:"Spray of high-volume foliar in gallons per acre. Default: 75."`
}

// An inch and a foot in the units of the API, by definition.
const (
	cmPerInch = 2.54
	mPerFoot  = 0.3048
)

func (s *settings) proto() *treatmentv1.Settings {
	p := s.doseSettings.proto()
	p.Standing, p.Categories = commonv1.Standing(s.Standing.value), categories(s.Category)
	p.DriftControl = commonv1.DriftControl(s.DriftControl.value)
	p.FormulationIds, p.TankGal, p.HandgunTankGal, p.SparePercent = s.Formulation, s.TankGal, s.HandgunTankGal, s.SparePercent
	p.CoordinateUncertaintyM = s.metres()
	return p
}

type category = word[rules.CertificationCategory]

func categories(list []category) []commonv1.CertificationCategory {
	var values []commonv1.CertificationCategory
	for _, c := range list {
		values = append(values, commonv1.CertificationCategory(c.value))
	}
	return values
}

func (s *doseSettings) proto() *treatmentv1.Settings {
	return &treatmentv1.Settings{
		CutMl: s.CutMl, WettingMlPerIn2: s.WettingMlPerIn2, BasalBandCm: times(s.BasalBandIn, cmPerInch),
		FoliarReachM: times(s.FoliarReachFt, mPerFoot), LowVolumeGalPerAc: s.LowVolumeGalPerAc, HighVolumeGalPerAc: s.HighVolumeGalPerAc,
	}
}

// times converts a quantity that may be absent.
func times(v *float64, factor float64) *float64 {
	if v == nil {
		return nil
	}
	return new(*v * factor)
}
