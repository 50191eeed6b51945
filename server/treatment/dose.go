package treatment

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Dose is what one row gets in one pass, for all its stems. Product, carrier,
// adjuvant and dye add up to the mix.
type Dose struct {
	Stems    int64
	Cuts     int64
	PerCut   quantity.Microlitres
	Mix      quantity.Microlitres
	Product  quantity.Microlitres // rounded down
	Carrier  quantity.Microlitres
	Adjuvant quantity.Microlitres
	Dye      quantity.Microlitres
	AE       quantity.MicrogramsAE // rounded up
	// Rate is AE on the row's own area, or on the site's where the row has none;
	// it is known if HasRate.
	Rate    quantity.ArealRate
	HasRate bool
}

// maxMix bounds the mix of one row; more is a slip of the pen. Sums of nine
// million rows of that size still fit their type.
const maxMix = 1_000_000 * quantity.Litre

// need is the mix that a method asks for, before it is composed.
type need struct {
	cuts   int64
	perCut quantity.Microlitres
	mix    quantity.Microlitres
}

// cutting is all that the need for a mix depends on in a recipe.
type cutting struct {
	every quantity.Micrometres // one cut for each so much diameter
	least int64
}

func (r *Recipe) cutting() cutting { return cutting{r.CutEvery, r.MinCuts} }

// isOneRow reports whether one row can be of so much mix.
func (n *need) isOneRow() bool { return n.mix > 0 && n.mix <= maxMix }

// compose turns a volume of mix into what is measured out. The product comes
// from acid equivalent per volume, never from a percentage: as much as brings
// the mix to the recipe's strength, rounded down.
func (d *Dose) compose(n *need, stems int64, r *Recipe, f *Formulation) error {
	if !n.isOneRow() {
		return fmt.Errorf("the row asks for %.6g L of mix; 0 to %.6g L can be one row: check diameter, count and area", n.mix.Litres(), maxMix.Litres())
	}
	product, ok := f.Strength.Dilute(n.mix, r.Mix)
	if !ok {
		return fmt.Errorf("formulation %s has %.4g g ae/L, the mix needs %.4g: use a stronger formulation", f.ID, f.Strength.GramsPerLitre(), r.Mix.GramsPerLitre())
	}
	d.Stems, d.Cuts, d.PerCut = stems, n.cuts, n.perCut
	d.Mix, d.Product, d.AE = n.mix, product, f.Strength.In(product)
	d.Adjuvant = min(r.Adjuvant.Of(n.mix), n.mix-product)
	d.Dye = min(r.Dye.Of(n.mix), n.mix-product-d.Adjuvant)
	d.Carrier = n.mix - product - d.Adjuvant - d.Dye
	return nil
}

// DoseOf computes what a stem takes by a named method and formulation, lawful or
// not. Its error says why there is no such dose.
func DoseOf(c *Catalogue, settings *Settings, stem *Stem, by rules.Method, formulation string) (Dose, *Recipe, *Formulation, error) {
	f := c.Formulation(formulation)
	if f == nil {
		return Dose{}, nil, nil, fmt.Errorf("formulation %q is not in the catalogue", formulation)
	}
	z := stem.size()
	for _, m := range methods {
		for i := range c.Recipes {
			r := &c.Recipes[i]
			if m.id() != by || r.Method != by || !f.serves(r) {
				continue
			}
			if by != rules.LowVolumeFoliar && by != rules.HighVolumeFoliar && stem.Diameter == 0 {
				return Dose{}, nil, nil, fmt.Errorf("%s needs a diameter, and none is given", by)
			}
			var d Dose
			n := m.need(settings, z, r.cutting())
			err := d.compose(&n, z.stems, r, f)
			if stem.Area > 0 {
				d.Rate, d.HasRate = quantity.RateOf(d.AE, stem.Area)
			}
			return d, r, f, err
		}
	}
	return Dose{}, nil, nil, fmt.Errorf("no recipe uses formulation %s by %s", formulation, by)
}
