package treatment_test

import (
	"fmt"
	"math/big"
	"math/rand/v2"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// Every dose is computed here a second time: in rational arithmetic, from the
// numbers in the units in which they are stated, by the definitions that the
// methods document, and with nothing of the first computation but its inputs.

// TestDosesAgreeWithTheirRecomputation draws a million stems, or 20,000 in short
// mode; the draw is the same in each run.
func TestDosesAgreeWithTheirRecomputation(t *testing.T) {
	n := 1_000_000
	if testing.Short() {
		n = 20_000
	}
	random := rand.New(rand.NewPCG(17, 4))
	c := recomputedCatalogue()
	doses := map[string]int{}
	for i := range n {
		d := drawDosing(random)
		got, _, _, err := treatment.DoseOf(c, d.settings(), d.stem(), d.recipe.method, d.product.id)
		want, ok := d.recompute()
		if ok != (err == nil) || ok && got != want {
			t.Fatalf("draw %d, %v:\ngot  %+v, %v\nwant %+v, %t", i, d, got, err, want, ok)
		}
		if ok {
			doses[fmt.Sprintf("%s of %s", d.recipe.method, d.product.id)]++
		}
	}
	requireAllDosed(t, doses, n)
}

// requireAllDosed sees to it that each method met each product that serves it,
// and that most draws had a dose to compare.
func requireAllDosed(t *testing.T, doses map[string]int, n int) {
	t.Helper()
	all := 0
	for _, r := range statedRecipes {
		for _, p := range statedProducts {
			name := fmt.Sprintf("%s of %s", r.method, p.id)
			all += doses[name]
			if serves := p.active == r.active && p.kind == r.kind && p.id != "weak-salt"; serves && doses[name] < n/200 {
				t.Errorf("%s was dosed %d times", name, doses[name])
			}
		}
	}
	if all < n/2 {
		t.Errorf("%d of %d draws had a dose", all, n)
	}
}

// 4,941 stems to the hectare on this area are 917,819 and a ten-thousandth of a
// millionth; no float64 holds the product.
func TestAPartOfAStemCountsWhole(t *testing.T) {
	s := treatment.Stem{PerHectare: 4_941, Area: 1_857_557_174_661}
	if got := s.Stems(); got != 917_820 {
		t.Errorf("%d stems, want 917820", got)
	}
}

// unit is a unit of the trade: its size in the whole units of the core, and how
// the core takes a number in it.
type unit[T any] struct {
	name string
	size *big.Rat
	of   func(float64) T
}

// stated is a number of thousandths with its unit. No number drawn here lies half
// way between two whole units of the core.
type stated[T any] struct {
	thousandths int64
	unit        *unit[T]
}

func (u *unit[T]) at(thousandths int64) stated[T] { return stated[T]{thousandths, u} }

func (s stated[T]) core() T { return s.unit.of(float64(s.thousandths) / 1_000) }

// exact is the number in the core's unit, not rounded.
func (s stated[T]) exact() *big.Rat {
	x := big.NewRat(s.thousandths, 1_000)
	return x.Mul(x, s.unit.size)
}

// whole is the number in whole units of the core, the nearest.
func (s stated[T]) whole() *big.Rat { return nearest(s.exact()) }

func (s stated[T]) String() string {
	return fmt.Sprintf("%g %s", float64(s.thousandths)/1_000, s.unit.name)
}

// rat reads a number in decimals, or a fraction.
func rat(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic(text)
	}
	return r
}

var (
	pi         = rat("3.1415926535897932384626433832795028841971")
	quarterPi  = new(big.Rat).Quo(pi, rat("4"))
	perPi      = new(big.Rat).Inv(pi)
	squareAcre = rat("4046856422.4") // mm², of the international foot
	hectare    = rat("10000000000")  // mm²
	oneInch    = rat("25400")        // µm
	half       = rat("1/2")
	million    = rat("1000000")
	perMillion = rat("1/1000000")
	mostOfARow = rat("1000000000000") // µL; more is a slip of the pen
	perWetting = rat("100000")        // nL/cm² times mm² to the µL
)

var (
	inch     = &unit[quantity.Micrometres]{"in", oneInch, quantity.Inches}
	foot     = &unit[quantity.Micrometres]{"ft", rat("304800"), quantity.Feet}
	cm       = &unit[quantity.Micrometres]{"cm", rat("10000"), quantity.Centimetres}
	metre    = &unit[quantity.Micrometres]{"m", rat("1000000"), quantity.Metres}
	girth    = &unit[quantity.Micrometres]{"cm of girth", new(big.Rat).Mul(rat("10000"), perPi), fromGirth}
	acre     = &unit[quantity.SquareMillimetres]{"acre", squareAcre, quantity.Acres}
	sqFoot   = &unit[quantity.SquareMillimetres]{"ft²", rat("92903.04"), quantity.SquareFeet}
	sqMetre  = &unit[quantity.SquareMillimetres]{"m²", million, quantity.SquareMetres}
	ml       = &unit[quantity.Microlitres]{"mL", rat("1000"), quantity.Millilitres}
	mlPerIn2 = &unit[quantity.WettingRate]{"mL/in²", rat("10000000000/64516"), quantity.MillilitresPerSquareInch}
	gpa      = &unit[quantity.CarrierVolume]{"gal/acre", rat("3785411.784"), quantity.GallonsPerAcre}
	percent  = &unit[quantity.PerMillion]{"%", rat("10000"), quantity.Percent}
	// The core's unit of strength has no name; its size here is that of a gram to
	// the litre, a microgram to the microlitre.
	lbPerGal = &unit[quantity.Strength]{"lb ae/gal", rat("453592370000/3785411784"), quantity.PoundsPerGallon}
	gPerL    = &unit[quantity.Strength]{"g ae/L", rat("1"), quantity.GramsPerLitre}
)

func fromGirth(v float64) quantity.Micrometres {
	return quantity.DiameterFromGirth(quantity.Centimetres(v))
}

func floor(x *big.Rat) *big.Rat {
	// Div rounds down where the divisor is above zero, as a denominator is.
	return new(big.Rat).SetInt(new(big.Int).Div(x.Num(), x.Denom()))
}

func ceil(x *big.Rat) *big.Rat {
	f := floor(new(big.Rat).Neg(x))
	return f.Neg(f)
}

func nearest(x *big.Rat) *big.Rat { return floor(new(big.Rat).Add(x, half)) }

func mul(x *big.Rat, by ...*big.Rat) *big.Rat {
	p := new(big.Rat).Set(x)
	for _, b := range by {
		p.Mul(p, b)
	}
	return p
}

func over(x, y *big.Rat) *big.Rat { return new(big.Rat).Quo(x, y) }
func less(x, y *big.Rat) *big.Rat { return new(big.Rat).Sub(x, y) }
func whole(n int64) *big.Rat      { return new(big.Rat).SetInt64(n) }
func integer(x *big.Rat) int64    { return x.Num().Int64() }
func least(x, y *big.Rat) *big.Rat {
	if x.Cmp(y) < 0 {
		return x
	}
	return y
}

// statedProduct and statedRecipe are a small catalogue in the units in which its
// entries are stated.
type statedProduct struct {
	id, active string
	kind       rules.FormulationKind
	strength   stated[quantity.Strength]
}

type statedRecipe struct {
	method        rules.Method
	active        string
	kind          rules.FormulationKind
	mix           stated[quantity.Strength]
	carrier       treatment.Carrier
	adjuvant, dye stated[quantity.PerMillion]
	cutEvery      stated[quantity.Micrometres]
	minCuts       int64
}

var statedProducts = []statedProduct{
	{"salt-4", "a", rules.WaterSalt, lbPerGal.at(4_000)},
	{"salt-2.8", "a", rules.WaterSalt, lbPerGal.at(2_800)},
	{"salt-360", "a", rules.WaterSalt, gPerL.at(360_000)},
	{"salt-479.711", "a", rules.WaterSalt, gPerL.at(479_711)},
	{"weak-salt", "a", rules.WaterSalt, lbPerGal.at(100)},
	{"ester-4", "b", rules.Ester, lbPerGal.at(4_000)},
	{"ester-480", "b", rules.Ester, gPerL.at(480_000)},
	{"ester-667", "b", rules.Ester, gPerL.at(667_000)},
	{"root-2", "c", rules.WaterSalt, lbPerGal.at(2_000)},
	{"root-240", "c", rules.WaterSalt, gPerL.at(240_000)},
}

var statedRecipes = []statedRecipe{
	{rules.BasalBark, "b", rules.Ester, lbPerGal.at(800), treatment.Oil, none, quarter, every0, 0},
	{rules.HackAndSquirt, "a", rules.WaterSalt, lbPerGal.at(2_000), treatment.Water, none, quarter, every1, 2},
	{rules.HackAndSquirt, "c", rules.WaterSalt, gPerL.at(120_000), treatment.Water, none, quarter, every3, 2},
	{rules.CutStump, "a", rules.WaterSalt, gPerL.at(180_000), treatment.Water, none, quarter, every0, 0},
	{rules.CutStump, "b", rules.Ester, gPerL.at(96_000), treatment.Oil, none, none, every0, 0},
	// Undiluted where the product is of that strength: nothing else finds room.
	{rules.CutStump, "c", rules.WaterSalt, lbPerGal.at(2_000), treatment.Undiluted, one, quarter, every0, 0},
	{rules.LowVolumeFoliar, "a", rules.WaterSalt, lbPerGal.at(120), treatment.Water, one, quarter, every0, 0},
	{rules.LowVolumeFoliar, "c", rules.WaterSalt, gPerL.at(2_397), treatment.Water, one, quarter, every0, 0},
	{rules.HighVolumeFoliar, "a", rules.WaterSalt, lbPerGal.at(60), treatment.Water, one, quarter, every0, 0},
	{rules.HighVolumeFoliar, "b", rules.Ester, lbPerGal.at(45), treatment.Water, one, none, every0, 0},
}

var (
	none    = percent.at(0)
	quarter = percent.at(250)
	one     = percent.at(1_000)
	every0  = inch.at(0)
	every1  = inch.at(1_000)
	every3  = inch.at(3_000)
)

func recomputedCatalogue() *treatment.Catalogue {
	c := &treatment.Catalogue{Species: []treatment.Species{{Name: "Arbor inventa"}}}
	for _, p := range statedProducts {
		c.Formulations = append(c.Formulations, treatment.Formulation{
			ID: p.id, Active: p.active, Kind: p.kind, Strength: p.strength.core(),
			Methods: rules.AnyOf(rules.BasalBark, rules.HackAndSquirt, rules.CutStump, rules.LowVolumeFoliar, rules.HighVolumeFoliar),
		})
	}
	for _, r := range statedRecipes {
		c.Recipes = append(c.Recipes, treatment.Recipe{
			Method: r.method, Active: r.active, Kind: r.kind, Mix: r.mix.core(), Carrier: r.carrier,
			Adjuvant: r.adjuvant.core(), Dye: r.dye.core(), CutEvery: r.cutEvery.core(), MinCuts: r.minCuts,
		})
	}
	return c
}

// dosing is a row with all that its dose depends on. Zero is not known.
type dosing struct {
	recipe     *statedRecipe
	product    *statedProduct
	diameter   stated[quantity.Micrometres]
	height     stated[quantity.Micrometres]
	crown      stated[quantity.Micrometres]
	area       stated[quantity.SquareMillimetres]
	count      int64
	perHectare int64
	band       stated[quantity.Micrometres]
	wetting    stated[quantity.WettingRate]
	perCut     stated[quantity.Microlitres]
	carrier    stated[quantity.CarrierVolume]
}

func drawDosing(r *rand.Rand) *dosing {
	d := &dosing{recipe: &statedRecipes[r.IntN(len(statedRecipes))]}
	for d.product == nil || d.product.active != d.recipe.active || d.product.kind != d.recipe.kind {
		d.product = &statedProducts[r.IntN(len(statedProducts))]
	}
	d.diameter = draw(r, 50, inch.at(60_000), cm.at(150_000), girth.at(400_000))
	d.height = draw(r, 10, foot.at(15_000), metre.at(5_000))
	d.height.thousandths -= d.height.thousandths % 10 // so that half of it is whole too
	d.crown = draw(r, 2, foot.at(30_000), metre.at(10_000))
	d.count = r.Int64N(1 + 1_000_000>>r.IntN(20))
	d.area.unit = sqMetre
	if r.IntN(3) == 0 {
		d.area = draw(r, 1_000, acre.at(100_000), sqFoot.at(4_000_000), sqMetre.at(400_000_000))
	}
	if d.area.thousandths > 0 && r.IntN(2) == 0 {
		d.count, d.perHectare = 0, 1+r.Int64N(20_000)
	}
	d.band = inch.at(12_000 + r.Int64N(6_001))
	d.wetting = mlPerIn2.at(10 + r.Int64N(1_991))
	d.perCut = ml.at(100 + r.Int64N(4_901))
	d.carrier = gpa.at(1_000 * (1 + r.Int64N(400)))
	return d
}

// draw picks a number up to one of the limits, and leaves one in so many unknown.
func draw[T any](r *rand.Rand, unknownIn int, limits ...stated[T]) stated[T] {
	limit := limits[r.IntN(len(limits))]
	if r.IntN(unknownIn) == 0 {
		return limit.unit.at(0)
	}
	return limit.unit.at(1 + r.Int64N(limit.thousandths))
}

func (d *dosing) stem() *treatment.Stem {
	return &treatment.Stem{
		ID: "1", Species: "Arbor inventa", Diameter: d.diameter.core(), Height: d.height.core(), CrownWidth: d.crown.core(),
		Area: d.area.core(), Count: d.count, PerHectare: d.perHectare,
	}
}

func (d *dosing) settings() *treatment.Settings {
	return &treatment.Settings{
		BasalBand: d.band.core(), Wetting: d.wetting.core(), PerCut: d.perCut.core(),
		LowVolume: d.carrier.core(), HighVolume: d.carrier.core(),
	}
}

func (d *dosing) String() string {
	return fmt.Sprintf("%s of %s, diameter %v, height %v, crown %v, area %v, count %d, %d per ha, band %v, wetting %v, per cut %v, spray %v",
		d.recipe.method, d.product.id, d.diameter, d.height, d.crown, d.area, d.count, d.perHectare, d.band, d.wetting, d.perCut, d.carrier)
}

// recompute gives the dose, and false where there is none.
func (d *dosing) recompute() (treatment.Dose, bool) {
	var dose treatment.Dose
	stems := d.stems()
	mix := new(big.Rat)
	switch d.recipe.method {
	case rules.BasalBark:
		mix = mul(d.wets(nearest(mul(pi, d.diameter.whole(), d.band.whole(), perMillion))), stems)
	case rules.CutStump:
		mix = mul(d.wets(d.ring()), stems)
	case rules.HackAndSquirt:
		cuts := mul(d.cuts(), stems)
		mix = mul(cuts, d.perCut.whole())
		dose.Cuts, dose.PerCut = integer(cuts), quantity.Microlitres(integer(d.perCut.whole()))
	default:
		mix = ceil(mul(d.carrier.whole(), over(d.sprayed(), squareAcre)))
	}
	byDiameter := d.recipe.method != rules.LowVolumeFoliar && d.recipe.method != rules.HighVolumeFoliar
	if byDiameter && d.diameter.thousandths == 0 || mix.Sign() == 0 || mix.Cmp(mostOfARow) > 0 || d.product.strength.exact().Cmp(d.recipe.mix.exact()) < 0 {
		return treatment.Dose{}, false
	}
	dose.Stems = integer(stems)
	d.compose(&dose, mix)
	return dose, true
}

// stems is the count, or those of the area, where a part of one counts whole.
func (d *dosing) stems() *big.Rat {
	if d.perHectare > 0 {
		return ceil(mul(whole(d.perHectare), over(d.area.whole(), hectare)))
	}
	return whole(max(1, d.count))
}

// wets is the mix for an area of bark or wood of one stem: the rate in whole
// nanolitres to the square centimetre, the volume rounded up to a microlitre.
func (d *dosing) wets(area *big.Rat) *big.Rat {
	return ceil(over(mul(d.wetting.whole(), area), perWetting))
}

// ring is the outer inch of the cut.
func (d *dosing) ring() *big.Rat {
	inner := less(d.diameter.whole(), mul(oneInch, whole(2)))
	if inner.Sign() <= 0 {
		return disc(d.diameter.whole())
	}
	return less(disc(d.diameter.whole()), disc(inner))
}

// disc is the area of a circle, to the nearest square millimetre.
func disc(diameter *big.Rat) *big.Rat {
	return nearest(mul(quarterPi, diameter, diameter, perMillion))
}

// cuts is one for each started part of the diameter, and no fewer than the least.
func (d *dosing) cuts() *big.Rat {
	cuts := ceil(over(d.diameter.whole(), d.recipe.cutEvery.exact()))
	if fewest := whole(d.recipe.minCuts); cuts.Cmp(fewest) < 0 {
		return fewest
	}
	return cuts
}

// sprayed is the patch, or the ground under the crowns; a crown that nobody
// measured is half as wide as it is high.
func (d *dosing) sprayed() *big.Rat {
	if d.area.thousandths > 0 {
		return d.area.whole()
	}
	width := d.crown.whole()
	if width.Sign() == 0 {
		width = mul(d.height.whole(), half)
	}
	return mul(disc(width), d.stems())
}

// compose measures out the mix.
func (d *dosing) compose(dose *treatment.Dose, mix *big.Rat) {
	strength := d.product.strength.exact()
	product := floor(mul(mix, over(d.recipe.mix.exact(), strength)))
	left := less(mix, product)
	adjuvant := least(floor(mul(mix, d.recipe.adjuvant.exact(), perMillion)), left)
	left = less(left, adjuvant)
	dye := least(floor(mul(mix, d.recipe.dye.exact(), perMillion)), left)
	ae := ceil(mul(product, strength))
	dose.Mix, dose.Product = quantity.Microlitres(integer(mix)), quantity.Microlitres(integer(product))
	dose.Adjuvant, dose.Dye = quantity.Microlitres(integer(adjuvant)), quantity.Microlitres(integer(dye))
	dose.Carrier = quantity.Microlitres(integer(less(left, dye)))
	dose.AE = quantity.MicrogramsAE(integer(ae))
	if d.area.thousandths > 0 {
		dose.Rate, dose.HasRate = quantity.ArealRate(integer(ceil(over(mul(ae, squareAcre), d.area.whole())))), true
	}
}
