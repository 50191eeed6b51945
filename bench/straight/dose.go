package straight

import (
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"

	"example.org/rootward/bench/question"
)

// What the mixes are made from.
var (
	glyphosateStrength = quantity.PoundsPerGallon(3)
	imazapyrStrength   = quantity.PoundsPerGallon(2)
	onLeaves           = quantity.PoundsPerGallon(0.12)
	toWet              = quantity.PoundsPerGallon(0.06)
	imazapyrOnLeaves   = quantity.PoundsPerGallon(0.02)
	intoCuts           = quantity.PoundsPerGallon(2)
	imazapyrIntoCuts   = quantity.PoundsPerGallon(1)
	lowVolume          = quantity.GallonsPerAcre(20)
	highVolume         = quantity.GallonsPerAcre(75)
	wetting            = quantity.MillilitresPerSquareInch(0.3)
	adjuvant           = quantity.Percent(0.5)
	dye                = quantity.Percent(0.25)
)

// dose computes what was chosen and adds it to the site's sum.
func (f *facts) dose(a question.Answer, site *Site) treatment.Dose {
	d := treatment.Dose{Stems: f.Stems()}
	strength, mix, spray := glyphosateStrength, intoCuts, false
	switch a % 16 {
	case 0:
		d.Mix, mix, spray = highVolume.On(f.sprayed()), toWet, true
	case 1:
		d.Mix, mix, spray = lowVolume.On(f.sprayed()), onLeaves, true
	case 2:
		d.Mix, strength, mix, spray = lowVolume.On(f.sprayed()), imazapyrStrength, imazapyrOnLeaves, true
	case 3:
		f.cuts(&d, quantity.Inch)
	case 4:
		f.cuts(&d, 3*quantity.Inch)
		strength, mix = imazapyrStrength, imazapyrIntoCuts
	case 5:
		return treatment.Dose{}
	case 6:
		d.Mix = wetting.On(ring(f.Diameter)) * quantity.Microlitres(d.Stems)
	}
	d.Product, _ = strength.Dilute(d.Mix, mix)
	d.AE = strength.In(d.Product)
	if spray {
		d.Adjuvant = adjuvant.Of(d.Mix)
	}
	d.Dye = dye.Of(d.Mix)
	d.Carrier = d.Mix - d.Product - d.Adjuvant - d.Dye
	area := f.Area
	if area == 0 {
		area = site.Area
	}
	d.Rate, d.HasRate = quantity.RateOf(d.AE, area)
	if !site.use(strength == imazapyrStrength, d.AE) {
		return treatment.Dose{}
	}
	return d
}

// use adds to what is used up of a site's maximum, if that much is left.
func (s *Site) use(imazapyr bool, ae quantity.MicrogramsAE) bool {
	used, limit := &s.glyphosateUsed, s.glyphosateLimit
	if imazapyr {
		used, limit = &s.imazapyrUsed, s.imazapyrLimit
	}
	if *used+ae > limit {
		return false
	}
	*used += ae
	return true
}

// cuts are one for each started so much of diameter, and two at least.
func (f *facts) cuts(d *treatment.Dose, every quantity.Micrometres) {
	cuts := max(2, int64((f.Diameter+every-1)/every))
	d.Cuts, d.PerCut = cuts*d.Stems, quantity.Millilitre
	d.Mix = quantity.Millilitre * quantity.Microlitres(d.Cuts)
}

func ring(d quantity.Micrometres) quantity.SquareMillimetres {
	area := quantity.Circle(d)
	if d > 2*quantity.Inch {
		area -= quantity.Circle(d - 2*quantity.Inch)
	}
	return area
}

func (f *facts) sprayed() quantity.SquareMillimetres {
	if f.Area > 0 {
		return f.Area
	}
	return quantity.Circle(f.Height/2) * quantity.SquareMillimetres(f.Stems())
}
