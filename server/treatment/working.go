package treatment

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Working gives the formulas behind a dose of DoseOf with their numbers, a line a
// step, in the units of the field.
func Working(d *Dose, settings *Settings, stem *Stem, r *Recipe, f *Formulation) []string {
	lines := workingOfMix(d, settings, stem, r)
	lines = append(lines,
		fmt.Sprintf("product = mix × strength of mix ÷ strength of product = %.6g mL × %.6g g ae/L ÷ %.6g g ae/L = %.6g mL (rounded down to a microlitre)",
			d.Mix.Millilitres(), r.Mix.GramsPerLitre(), f.Strength.GramsPerLitre(), d.Product.Millilitres()),
		share("adjuvant", d, r.Adjuvant, d.Adjuvant),
		share("dye", d, r.Dye, d.Dye),
		fmt.Sprintf("carrier (%s) = mix - product - adjuvant - dye = %.6g mL", r.Carrier, d.Carrier.Millilitres()),
		fmt.Sprintf("acid equivalent = product × strength of product = %.6g mL × %.6g g ae/L ÷ 1000 = %.6g g (rounded up to a microgram)",
			d.Product.Millilitres(), f.Strength.GramsPerLitre(), d.AE.Grams()))
	if d.HasRate {
		lines = append(lines, fmt.Sprintf("rate = acid equivalent ÷ area = %.6g lb ÷ %.6g acre = %.6g lb/acre", d.AE.Pounds(), stem.Area.Acres(), d.Rate.PoundsPerAcre()))
	}
	return lines
}

func share(name string, d *Dose, of quantity.PerMillion, v quantity.Microlitres) string {
	return fmt.Sprintf("%s = mix × %.6g %% = %.6g mL", name, of.Percent(), v.Millilitres())
}

// workingOfMix is how the volume of mix comes about.
func workingOfMix(d *Dose, settings *Settings, stem *Stem, r *Recipe) []string {
	switch r.Method {
	case rules.BasalBark:
		bark := quantity.Band(stem.Diameter, settings.BasalBand)
		return append([]string{fmt.Sprintf("bark = π × diameter × band = π × %.6g in × %.6g in = %.6g in²", stem.Diameter.Inches(), settings.BasalBand.Inches(), bark.SquareInches())},
			wetted("bark", bark, d, settings))
	case rules.CutStump:
		ring := ringOf(stem.Diameter)
		return append([]string{fmt.Sprintf("cut = outer %.6g in of a circle of %.6g in = %.6g in²", cambium.Inches(), stem.Diameter.Inches(), ring.SquareInches())},
			wetted("cut", ring, d, settings))
	case rules.HackAndSquirt:
		return []string{
			fmt.Sprintf("cuts = max(%d, diameter ÷ %.6g in, rounded up) × stems = max(%d, %.6g ÷ %.6g) × %d = %d", r.MinCuts, r.CutEvery.Inches(), r.MinCuts, stem.Diameter.Inches(), r.CutEvery.Inches(), d.Stems, d.Cuts),
			fmt.Sprintf("mix = cuts × mix per cut = %d × %.6g mL = %.6g mL", d.Cuts, d.PerCut.Millilitres(), d.Mix.Millilitres()),
		}
	}
	volume := settings.LowVolume
	if r.Method == rules.HighVolumeFoliar {
		volume = settings.HighVolume
	}
	z := stem.size()
	sprayed := sprayArea(z)
	return []string{
		"area = " + sprayedWords(stem) + fmt.Sprintf(" = %.6g acre", sprayed.Acres()),
		fmt.Sprintf("mix = area × spray = %.6g acre × %.6g gal/acre = %.6g mL", sprayed.Acres(), volume.GallonsPerAcre(), d.Mix.Millilitres()),
	}
}

func wetted(what string, a quantity.SquareMillimetres, d *Dose, settings *Settings) string {
	return fmt.Sprintf("mix = %s × wetting × stems = %.6g in² × %.4g mL/in² × %d = %.6g mL", what, a.SquareInches(), settings.Wetting.MillilitresPerSquareInch(), d.Stems, d.Mix.Millilitres())
}

func sprayedWords(s *Stem) string {
	switch {
	case s.Area > 0:
		return "the patch"
	case s.CrownWidth > 0:
		return fmt.Sprintf("circle of the crown's width, %.6g m, × %s", s.CrownWidth.Metres(), rules.Several(s.Stems(), "stem"))
	}
	return fmt.Sprintf("circle of half the height, %.6g m, × %s", s.Height.Metres()/2, rules.Several(s.Stems(), "stem"))
}
