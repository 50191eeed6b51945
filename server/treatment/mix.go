package treatment

import (
	"cmp"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Mix is what is mixed for one method and formulation over all rows. Its volumes
// and its acid equivalent are the sums of the doses.
type Mix struct {
	Method      rules.Method
	Recipe      *Recipe
	Formulation *Formulation
	Rows        int64
	Stems       int64
	Mix         quantity.Microlitres
	Product     quantity.Microlitres
	Carrier     quantity.Microlitres
	Adjuvant    quantity.Microlitres
	Dye         quantity.Microlitres
	AE          quantity.MicrogramsAE
	Size        quantity.Microlitres // of a full load
	Loads       int64
	Full        Load // each load but the last; zero if there is one load
	Last        Load // what is left; it may be a full one, and up to 1 mL above
}

// Bottle is the load of a method that is done with a hand tool: a squirt bottle
// of 1 L (common practice, no source).
const Bottle = quantity.Litre

// leastLoad is what is not mixed as a load of its own: a smaller rest goes into
// the load before. Without it, 6 gal in a tank of 3 gal are three loads, the last
// of one microlitre, because volumes are held in whole microlitres.
const leastLoad = quantity.Millilitre

// Mixes sums doses by method and formulation, in any order. The zero value is
// ready; it is for one goroutine.
type Mixes struct {
	sums []*Mix // few
}

// Add counts the dose of one row. Where nothing is applied it counts nothing.
func (m *Mixes) Add(method rules.Method, r *Recipe, f *Formulation, d Dose) {
	if r == nil || f == nil || d.Mix == 0 {
		return
	}
	m.Of(method, r, f).Add(&d)
}

// Add counts the dose of one row.
func (m *Mix) Add(d *Dose) { m.add(1, d) }

func (m *Mix) add(rows int64, d *Dose) {
	grow(&m.Rows, rows)
	grow(&m.Stems, d.Stems)
	grow(&m.Mix, d.Mix)
	grow(&m.Product, d.Product)
	grow(&m.Carrier, d.Carrier)
	grow(&m.Adjuvant, d.Adjuvant)
	grow(&m.Dye, d.Dye)
	grow(&m.AE, d.AE)
}

// most is where a sum stops instead of wrapping: as a volume 10^12 L, far beyond
// any inventory. A sum that stops there does so in any order.
const most = 1 << 60

func grow[T ~int64](sum *T, by T) { *sum = min(*sum+min(by, most), most) }

// List gives the mixes, sorted by method and formulation, in loads of the tank
// that the method's equipment has. The settings' tanks are above zero.
func (m *Mixes) List(s *Settings) []Mix {
	list := make([]Mix, 0, len(m.sums))
	for _, sum := range m.sums {
		list = append(list, sum.inLoads(s))
	}
	slices.SortFunc(list, func(a, b Mix) int { return a.compare(b.Method, b.Recipe, b.Formulation) })
	return list
}

// compare is zero for what may be poured together.
func (m *Mix) compare(method rules.Method, r *Recipe, f *Formulation) int {
	return cmp.Or(cmp.Compare(m.Method, method), cmp.Compare(m.Formulation.ID, f.ID),
		cmp.Compare(m.Recipe.Mix, r.Mix), cmp.Compare(m.Recipe.Adjuvant, r.Adjuvant),
		cmp.Compare(m.Recipe.Dye, r.Dye), cmp.Compare(m.Recipe.Carrier, r.Carrier))
}

func (m *Mix) inLoads(s *Settings) Mix {
	l := *m
	l.Size = s.load(m.Method)
	l.Loads = max(1, int64((m.Mix+l.Size-leastLoad)/l.Size))
	if l.Loads > 1 {
		l.Full = newLoad(l.Size, m.Recipe, m.Formulation)
	}
	l.Last = newLoad(m.Mix-quantity.Microlitres(l.Loads-1)*l.Size, m.Recipe, m.Formulation)
	return l
}

// load is the size of a full load for a method.
func (s *Settings) load(id rules.Method) quantity.Microlitres {
	i := slices.IndexFunc(methods, func(m method) bool { return m.id() == id })
	switch methods[i].delivery().equipment {
	case rules.HandTool:
		return Bottle
	case rules.Handgun:
		return s.HandgunTank
	}
	return s.Tank
}

// Load is one filling of the sprayer or bottle, with what is measured into it.
// Product, carrier, adjuvant and dye add up to the mix.
//
// What is measured is rounded down to a mark: 1 mL, and 0.1 mL below 10 mL. So
// the loads may hold a little less product than the doses, and a load too small
// for one mark of product holds none: take it out of a larger one. Only what goes
// in undiluted is not measured; the load is filled with it.
type Load struct {
	Mix       quantity.Microlitres
	Product   quantity.Microlitres
	Carrier   quantity.Microlitres
	Adjuvant  quantity.Microlitres
	Dye       quantity.Microlitres
	ProductUS FluidOunce64ths // the product in US customary measure, instead; carrier makes up the mix
}

func newLoad(v quantity.Microlitres, r *Recipe, f *Formulation) Load {
	product, _ := f.Strength.Dilute(v, r.Mix)
	adjuvant := min(r.Adjuvant.Of(v), v-product)
	dye := min(r.Dye.Of(v), v-product-adjuvant)
	l := Load{Mix: v, Product: product, Adjuvant: measureDown(adjuvant), Dye: measureDown(dye), ProductUS: dilutedUS(v, r, f)}
	if product < v {
		l.Product = measureDown(product)
	}
	l.Carrier = v - l.Product - l.Adjuvant - l.Dye
	return l
}

// measureDown is the highest mark of a measure that v reaches. A cylinder has a
// mark each millilitre, a syringe of 10 mL each tenth (common practice, no
// source).
func measureDown(v quantity.Microlitres) quantity.Microlitres {
	step := quantity.Millilitre
	if v < 10*quantity.Millilitre {
		step = quantity.Millilitre / 10
	}
	return v - v%step
}

// FluidOunce64ths is a volume in 64ths of a US fluid ounce, eighths of a fluid
// dram, of about 0.46 mL each (a dram is an eighth of the ounce: NIST Handbook 44
// Appendix C).
type FluidOunce64ths int64

// FluidOunces gives the volume in US fluid ounces; it is exact.
func (v FluidOunce64ths) FluidOunces() float64 { return float64(v) / 64 }

// measureDown is the highest mark of a measure that v reaches: quarter ounces
// from 8 fl oz, drams from 1 fl oz, eighths of a dram below (common practice, no
// source). None of the steps takes away more than an eighth of what is measured
// from an eighth of an ounce on.
func (v FluidOunce64ths) measureDown() FluidOunce64ths {
	switch {
	case v >= 8*64:
		return v - v%16
	case v >= 64:
		return v - v%8
	}
	return v
}

// dilutedUS is the product that brings a load to the recipe's strength. It allows
// for the half microlitre that is lost when the volume of a tank is written in
// whole ones: a quarter of 3 gal is 96 fl oz, not 95.75. More than that it never
// passes the strength.
func dilutedUS(v quantity.Microlitres, r *Recipe, f *Formulation) FluidOunce64ths {
	// 8,192 64ths are a gallon of 3,785,411.784 µL.
	over := multiply(2*int64(v)+1, int64(r.Mix), 8_192_000).over(int64(f.Strength)).over(2 * 3_785_411_784)
	return FluidOunce64ths(over.whole()).measureDown()
}

// Purchase is what to buy of one thing, in whole containers.
type Purchase struct {
	Item       string // id of the formulation, or oil, adjuvant, dye
	Name       string
	Needed     quantity.Microlitres // rounded up
	Spare      quantity.Microlitres
	Container  quantity.Microlitres // size of one; zero: not known
	Containers int64                // zero if their size is not known
	Surplus    quantity.Microlitres // beyond need and spare
}

// What is not in the catalogue is bought in containers of a usual size (common
// practice, no source).
var (
	oilContainer      = quantity.Gallons(5)
	adjuvantContainer = quantity.Gallons(1)
	dyeContainer      = quantity.FluidOunces(32)
)

// Purchases lists what the mixes take, with the spare for each item: formulations
// by id, then oil, adjuvant and dye. Water is not bought. The need of a product
// is that of its mixes at their strength, to which the doses, each rounded down,
// may come up short.
func Purchases(mixes []Mix, spare quantity.PerMillion) []Purchase {
	products := make([]item, 0, len(mixes))
	oil := newItem("oil", "oil carrier", oilContainer, 1)
	adjuvant := newItem("adjuvant", "adjuvant, of the kind that the label names", adjuvantContainer, 1_000_000)
	dye := newItem("dye", "marker dye", dyeContainer, 1_000_000)
	for i := range mixes {
		m := &mixes[i]
		f, r := m.Formulation, m.Recipe
		at := slices.IndexFunc(products, func(it item) bool { return it.Item == f.ID })
		if at < 0 {
			at, products = len(products), append(products, newItem(f.ID, f.Name, f.Container, int64(f.Strength)))
		}
		products[at].add(m.Mix, int64(r.Mix))
		adjuvant.add(m.Mix, int64(r.Adjuvant))
		dye.add(m.Mix, int64(r.Dye))
		if r.Carrier == Oil {
			oil.add(m.poured(), 1)
		}
	}
	slices.SortFunc(products, func(a, b item) int { return cmp.Compare(a.Item, b.Item) })
	list := make([]Purchase, 0, len(products)+3)
	for i := range products {
		list = append(list, products[i].purchase(spare))
	}
	for _, it := range [...]item{oil, adjuvant, dye} {
		if it.over != (wide{}) {
			list = append(list, it.purchase(spare))
		}
	}
	return list
}

// poured is the carrier that the loads take. It makes up for what measuring takes
// from the product.
func (m *Mix) poured() quantity.Microlitres {
	return max(m.Carrier, m.Full.Carrier*quantity.Microlitres(m.Loads-1)+m.Last.Carrier)
}

// item sums the need of one thing as a fraction, so that it is rounded once.
type item struct {
	Purchase
	over  wide
	under int64
}

func newItem(id, name string, container quantity.Microlitres, under int64) item {
	return item{Purchase{Item: id, Name: name, Container: container}, wide{}, under}
}

func (it *item) add(v quantity.Microlitres, share int64) {
	it.over = it.over.plus(multiply(int64(v), share))
}

func (it *item) purchase(spare quantity.PerMillion) Purchase {
	p := it.Purchase
	up := it.over.plus(wide{lo: uint64(it.under - 1)})
	p.Needed = min(quantity.Microlitres(up.over(it.under).whole()), most)
	p.Spare = min(spare.Of(p.Needed), most)
	if all := p.Needed + p.Spare; p.Container > 0 {
		p.Containers = int64((all + p.Container - 1) / p.Container)
		p.Surplus = quantity.Microlitres(p.Containers)*p.Container - all
	}
	return p
}
