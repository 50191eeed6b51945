package treatment_test

import (
	"math/big"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const oneML = quantity.Millilitre

// blend is a recipe with a product, strengths in lb ae/gal and shares in percent.
type blend struct {
	method            rules.Method
	mix, product      float64
	adjuvantPc, dyePc float64
	carrier           treatment.Carrier
	container         float64 // gal
}

func (b blend) recipe() *treatment.Recipe {
	return &treatment.Recipe{
		Method: b.method, Mix: quantity.PoundsPerGallon(b.mix), Carrier: b.carrier,
		Adjuvant: quantity.Percent(b.adjuvantPc), Dye: quantity.Percent(b.dyePc),
	}
}

func (b blend) formulation() *treatment.Formulation {
	return &treatment.Formulation{ID: "f", Name: "product f", Strength: quantity.PoundsPerGallon(b.product), Container: quantity.Gallons(b.container)}
}

// mixOf lists the mix of one dose.
func mixOf(t testing.TB, b blend, wanting, tank quantity.Microlitres) treatment.Mix {
	t.Helper()
	var mixes treatment.Mixes
	mixes.Add(b.method, b.recipe(), b.formulation(), treatment.Dose{Stems: 1, Mix: wanting})
	list := mixes.List(sprayer(tank))
	require.Len(t, list, 1)
	return list[0]
}

func TestMeasuredAmounts(t *testing.T) {
	fifth := blend{method: rules.BasalBark, mix: 0.8, product: 4, dyePc: 0.25, carrier: treatment.Oil}
	quarter := blend{method: rules.BasalBark, mix: 1, product: 4, carrier: treatment.Oil}
	three := blend{method: rules.LowVolumeFoliar, mix: 0.12, product: 4, adjuvantPc: 0.5, dyePc: 0.25, carrier: treatment.Water}
	halves := blend{method: rules.HackAndSquirt, mix: 2, product: 4, dyePc: 0.25, carrier: treatment.Water}
	neat := blend{method: rules.BasalBark, mix: 4, product: 4, adjuvantPc: 1, dyePc: 1, carrier: treatment.Undiluted}
	threeGallons := quantity.Gallons(3)
	cases := []struct {
		name                   string
		blend                  blend
		mix                    quantity.Microlitres
		product, adjuvant, dye float64 // mL
		fluidOunces            float64
	}{
		// 128 fl oz to the gallon: 76.8. Field guides round that to 80, which is
		// stronger than the recipe (from memory).
		{"20 % of 3 gal is not rounded up to 80 fl oz", fifth, threeGallons, 2_271, 0, 28, 76.75},
		{"25 % of 3 gal is 96 fl oz though 3 gal are no whole microlitres", quarter, threeGallons, 2_839, 0, 0, 96},
		{"3 % of 3 gal", three, threeGallons, 340, 56, 28, 11.5},
		{"half a bottle", halves, treatment.Bottle, 500, 0, 2.5, 16.75},
		{"drams below 8 fl oz", halves, 100 * oneML, 50, 0, 0.2, 1.625},
		{"tenths of a millilitre and of a fluid ounce below 10 mL", halves, 19*oneML + 990, 9.9, 0, 0, 21.0 / 64},
		{"nothing where not even a mark is reached", three, 2 * oneML, 0, 0, 0, 0},
		{"undiluted is not measured", neat, 333*oneML + 335, 333.335, 0, 0, 11.25},
		{"quarters from 8 fl oz", neat, quantity.FluidOunces(8.2), 242.503, 0, 0, 8},
		// 7/64 fl oz are 3,234.6 µL.
		{"more than half a microlitre below a mark", neat, 3_234, 3.234, 0, 0, 6.0 / 64},
		{"less than half a microlitre below a mark", neat, 3_235, 3.235, 0, 0, 7.0 / 64},
		{"a microlitre below 1,000 gal", neat, 3_785_411_783, 3_785_411.783, 0, 0, 127_999.75},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			l := mixOf(t, c.blend, c.mix, quantity.Gallons(1_000)).Last
			assert.Equal(t, quantity.Millilitres(c.product), l.Product)
			assert.Equal(t, quantity.Millilitres(c.adjuvant), l.Adjuvant)
			assert.Equal(t, quantity.Millilitres(c.dye), l.Dye)
			assert.Equal(t, c.mix-l.Product-l.Adjuvant-l.Dye, l.Carrier)
			assert.Equal(t, c.fluidOunces, l.ProductUS.FluidOunces())
		})
	}
}

func TestLoads(t *testing.T) {
	b := blend{method: rules.BasalBark, mix: 0.8, product: 4, carrier: treatment.Oil}
	cases := []struct {
		name      string
		mix, tank quantity.Microlitres
		loads     int64
		last      quantity.Microlitres
	}{
		{"the last load is partial", quantity.Gallons(50), quantity.Gallons(15), 4, quantity.Gallons(50) - 3*quantity.Gallons(15)},
		{"no fifth, empty load", 60 * quantity.Litre, 15 * quantity.Litre, 4, 15 * quantity.Litre},
		{"less than one load is one", quantity.Gallons(0.5), quantity.Gallons(3), 1, quantity.Gallons(0.5)},
		{"one full load", quantity.Gallons(3), quantity.Gallons(3), 1, quantity.Gallons(3)},
		{"a microlitre too much is no load", quantity.Gallons(6), quantity.Gallons(3), 2, quantity.Gallons(3) + 1},
		{"a millilitre too much is one", 2*quantity.Gallons(3) + oneML, quantity.Gallons(3), 3, oneML},
		{"a microlitre is a load if it is all", 1, quantity.Gallons(3), 1, 1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			m := mixOf(t, b, c.mix, c.tank)
			assert.Equal(t, c.loads, m.Loads)
			assert.Equal(t, c.last, m.Last.Mix)
			if c.loads == 1 {
				assert.Zero(t, m.Full)
			} else {
				assert.Equal(t, c.tank, m.Full.Mix)
			}
		})
	}
}

func TestHandToolsTakeABottle(t *testing.T) {
	tank := quantity.Gallons(25)
	sizes := map[rules.Method]quantity.Microlitres{
		rules.BasalBark: tank, rules.LowVolumeFoliar: tank, rules.HighVolumeFoliar: tank,
		rules.HackAndSquirt: quantity.Litre, rules.CutStump: quantity.Litre,
	}
	for method, size := range sizes {
		m := mixOf(t, blend{method: method, mix: 1, product: 4}, 10*quantity.Litre, tank)
		assert.Equal(t, size, m.Size, method)
	}
}

func TestMixesAreSummedApart(t *testing.T) {
	weak := blend{method: rules.BasalBark, mix: 0.4, product: 4, carrier: treatment.Oil}
	strong := blend{method: rules.BasalBark, mix: 0.8, product: 4, carrier: treatment.Oil}
	hack := blend{method: rules.HackAndSquirt, mix: 2, product: 4, carrier: treatment.Water}
	other := hack.formulation()
	other.ID = "e"
	var mixes treatment.Mixes
	mixes.Add(rules.HackAndSquirt, hack.recipe(), hack.formulation(), treatment.Dose{Stems: 3, Mix: 6, Product: 3, Carrier: 3, AE: 9})
	mixes.Add(rules.HackAndSquirt, hack.recipe(), other, treatment.Dose{Stems: 1, Mix: 2})
	mixes.Add(rules.BasalBark, strong.recipe(), strong.formulation(), treatment.Dose{Stems: 1, Mix: 3})
	mixes.Add(rules.BasalBark, weak.recipe(), weak.formulation(), treatment.Dose{Stems: 1, Mix: 4})
	mixes.Add(rules.HandPull, nil, nil, treatment.Dose{})
	mixes.Add(rules.HackAndSquirt, hack.recipe(), hack.formulation(), treatment.Dose{Stems: 4, Mix: 8, Product: 4, Carrier: 3, Dye: 1, AE: 12})

	list := mixes.List(sprayer(quantity.Gallons(3)))
	require.Len(t, list, 4, "one method and formulation, but not one strength, must not be poured together")
	var order []string
	for _, m := range list {
		order = append(order, m.Method.String()+" "+m.Formulation.ID)
	}
	assert.Equal(t, []string{"basal_bark f", "basal_bark f", "hack_and_squirt e", "hack_and_squirt f"}, order)
	assert.Less(t, list[0].Recipe.Mix, list[1].Recipe.Mix)
	sum := list[3]
	assert.Equal(t, []int64{2, 7}, []int64{sum.Rows, sum.Stems})
	assert.Equal(t, []quantity.Microlitres{14, 7, 6, 0, 1}, []quantity.Microlitres{sum.Mix, sum.Product, sum.Carrier, sum.Adjuvant, sum.Dye})
	assert.Equal(t, quantity.MicrogramsAE(21), sum.AE)
	assert.Empty(t, new(treatment.Mixes).List(sprayer(quantity.Litre)))
}

func TestASumStopsRatherThanWraps(t *testing.T) {
	b := blend{method: rules.BasalBark, mix: 0.8, product: 4}
	var mixes treatment.Mixes
	for range 40 {
		mixes.Add(b.method, b.recipe(), b.formulation(), treatment.Dose{Stems: 1 << 59, Mix: 1 << 59, AE: 1 << 62})
	}
	m := mixes.List(sprayer(quantity.Gallons(3)))[0]
	assert.EqualValues(t, 1<<60, m.Mix)
	assert.EqualValues(t, 1<<60, m.AE)
	p := treatment.Purchases([]treatment.Mix{m}, quantity.Percent(100))
	assert.Positive(t, p[0].Spare)
}

func TestPurchases(t *testing.T) {
	oil := blend{method: rules.BasalBark, mix: 0.8, product: 4, dyePc: 0.25, carrier: treatment.Oil, container: 2.5}
	hack := blend{method: rules.HackAndSquirt, mix: 2, product: 4, adjuvantPc: 0.5, carrier: treatment.Water, container: 2.5}
	a := mixOf(t, oil, 100*quantity.Litre, 10*quantity.Litre)
	b := mixOf(t, hack, 10*quantity.Litre, 10*quantity.Litre)
	list := treatment.Purchases([]treatment.Mix{a, b}, quantity.Percent(10))
	type bought struct {
		item       string
		needed     float64 // L
		containers int64
	}
	var got []bought
	for _, p := range list {
		got = append(got, bought{p.Item, p.Needed.Litres(), p.Containers})
		assert.Equal(t, p.Needed/10, p.Spare, p.Item)
	}
	assert.Equal(t, []bought{
		{"f", 25, 3}, // a fifth of 100 L and a half of 10 L: 27.5 L with the spare, and 2.5 gal are 9.46 L
		{"oil", 79.75, 5},
		{"adjuvant", 0.05, 1},
		{"dye", 0.25, 1},
	}, got)
	assert.Empty(t, treatment.Purchases(nil, 0))
}

func TestWholeContainers(t *testing.T) {
	cases := []struct {
		name       string
		gallons    float64
		container  float64
		containers int64
		surplus    float64
	}{
		{"a full one is enough", 2.5, 2.5, 1, 0},
		{"a little more takes another", 2.51, 2.5, 2, 2.49},
		{"a size that is not known gives no number", 2.5, 0, 0, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			neat := blend{method: rules.CutStump, mix: 4, product: 4, carrier: treatment.Undiluted, container: c.container}
			m := mixOf(t, neat, quantity.Gallons(c.gallons), quantity.Gallons(3))
			p := treatment.Purchases([]treatment.Mix{m}, 0)[0]
			assert.Equal(t, c.containers, p.Containers)
			assert.InDelta(t, c.surplus, p.Surplus.Gallons(), 1e-6)
		})
	}
}

// anyBlend draws strengths, shares and a container.
func anyBlend(t *rapid.T) blend {
	product := rapid.IntRange(100, 6_000).Draw(t, "product")
	return blend{
		method:     rapid.SampledFrom([]rules.Method{rules.BasalBark, rules.HackAndSquirt, rules.LowVolumeFoliar}).Draw(t, "method"),
		mix:        float64(rapid.IntRange(1, product).Draw(t, "mix")) / 1_000,
		product:    float64(product) / 1_000,
		adjuvantPc: float64(rapid.IntRange(0, 1_000).Draw(t, "adjuvant")) / 100,
		dyePc:      float64(rapid.IntRange(0, 1_000).Draw(t, "dye")) / 100,
		carrier:    rapid.SampledFrom([]treatment.Carrier{treatment.Oil, treatment.Water}).Draw(t, "carrier"),
		container:  float64(rapid.IntRange(1, 50).Draw(t, "container")) / 10,
	}
}

func anyVolume(t *rapid.T, label string) quantity.Microlitres {
	most := rapid.SampledFrom([]int64{1_000, 1_000_000, 100_000_000, 1_000_000_000_000}).Draw(t, label+" up to")
	return quantity.Microlitres(rapid.Int64Range(1, most).Draw(t, label))
}

// wanted is exactly the product that brings a volume to the strength, in µL.
func wanted(m *treatment.Mix, volume *big.Rat) *big.Rat {
	share := big.NewRat(int64(m.Recipe.Mix), int64(m.Formulation.Strength))
	return share.Mul(share, volume)
}

func microlitres(v quantity.Microlitres) *big.Rat { return big.NewRat(int64(v), 1) }

// requireLoad holds a load to what each load has to keep.
func requireLoad(t *rapid.T, m *treatment.Mix, l *treatment.Load) {
	require.Equal(t, l.Mix, l.Product+l.Carrier+l.Adjuvant+l.Dye, "mass balance")
	for _, v := range []quantity.Microlitres{l.Product, l.Carrier, l.Adjuvant, l.Dye} {
		require.GreaterOrEqual(t, v, quantity.Microlitres(0))
	}
	require.LessOrEqual(t, l.Adjuvant, m.Recipe.Adjuvant.Of(l.Mix))
	require.LessOrEqual(t, l.Dye, m.Recipe.Dye.Of(l.Mix))
	want := wanted(m, microlitres(l.Mix))
	require.LessOrEqual(t, microlitres(l.Product).Cmp(want), 0, "stronger than the recipe")
	mark := microlitres(l.Product + oneML)
	require.Positive(t, mark.Cmp(want), "a whole mark too little")
	requireUS(t, m, l)
}

// requireUS holds the US figure to the strength, for the load's volume and the
// half microlitre that it may have lost, and to a quarter of an ounce.
func requireUS(t *rapid.T, m *treatment.Mix, l *treatment.Load) {
	fluidOunce := big.NewRat(3_785_411_784, 128_000) // µL
	us := big.NewRat(int64(l.ProductUS), 64)
	us.Mul(us, fluidOunce)
	volume := microlitres(l.Mix)
	want := wanted(m, volume.Add(volume, big.NewRat(1, 2)))
	require.LessOrEqual(t, us.Cmp(want), 0, "stronger than the recipe")
	us.Add(us, fluidOunce.Mul(fluidOunce, big.NewRat(1, 4)))
	require.Positive(t, us.Cmp(want), "a quarter ounce too little")
}

func TestLoadProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := anyBlend(t)
		var mixes treatment.Mixes
		mixes.Add(b.method, b.recipe(), b.formulation(), treatment.Dose{Stems: 1, Mix: anyVolume(t, "mix")})
		tank := quantity.Gallons(float64(rapid.IntRange(5, 100_000).Draw(t, "tank")) / 100)
		m := mixes.List(sprayer(tank))[0]
		requireLoad(t, &m, &m.Last)
		if m.Loads > 1 {
			requireLoad(t, &m, &m.Full)
			require.Equal(t, m.Size, m.Full.Mix)
		}
		full := quantity.Microlitres(m.Loads - 1)
		require.Equal(t, m.Mix, full*m.Full.Mix+m.Last.Mix, "loads add up")
		require.Less(t, m.Last.Mix, m.Size+oneML)
		all := wanted(&m, microlitres(m.Mix))
		require.LessOrEqual(t, microlitres(full*m.Full.Product+m.Last.Product).Cmp(all), 0)
	})
}

func TestOrderOfAddIsIrrelevant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blends := rapid.SliceOfN(rapid.Custom(anyBlend), 1, 4).Draw(t, "blends")
		type entry struct {
			of int
			d  treatment.Dose
		}
		entries := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) entry {
			d := treatment.Dose{Stems: rapid.Int64Range(1, 1_000).Draw(t, "stems"), Mix: anyVolume(t, "mix")}
			d.Product = d.Mix / 3
			d.Carrier = d.Mix - d.Product
			d.AE = quantity.MicrogramsAE(d.Product) * 480
			return entry{rapid.IntRange(0, len(blends)-1).Draw(t, "blend"), d}
		}), 1, 30).Draw(t, "entries")
		list := func(entries []entry) []treatment.Mix {
			var mixes treatment.Mixes
			for _, e := range entries {
				b := blends[e.of]
				mixes.Add(b.method, b.recipe(), b.formulation(), e.d)
			}
			return mixes.List(sprayer(quantity.Gallons(3)))
		}
		shuffled := rapid.Permutation(entries).Draw(t, "shuffled")
		require.Equal(t, list(entries), list(shuffled))
	})
}

func TestContainersCoverTheNeed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blends := rapid.SliceOfN(rapid.Custom(anyBlend), 1, 4).Draw(t, "blends")
		spare := quantity.PerMillion(rapid.Int64Range(0, 1_000_000).Draw(t, "spare"))
		product := blends[0].formulation()
		var mixes treatment.Mixes
		for i, b := range blends {
			b.mix = min(b.mix, blends[0].product)
			mixes.Add(rules.Method(i+2), b.recipe(), product, treatment.Dose{Stems: 1, Mix: anyVolume(t, "mix")})
		}
		list := mixes.List(sprayer(quantity.Gallons(3)))
		all, measured := new(big.Rat), quantity.Microlitres(0)
		for i := range list {
			m := &list[i]
			all.Add(all, wanted(m, microlitres(m.Mix)))
			measured += quantity.Microlitres(m.Loads-1)*m.Full.Product + m.Last.Product
		}
		purchases := treatment.Purchases(list, spare)
		for _, p := range purchases {
			need := p.Needed + p.Spare
			require.GreaterOrEqual(t, quantity.Microlitres(p.Containers)*p.Container, need, p.Item)
			require.Less(t, quantity.Microlitres(p.Containers-1)*p.Container, need, p.Item)
			require.Equal(t, quantity.Microlitres(p.Containers)*p.Container, need+p.Surplus, p.Item)
			require.Equal(t, spare.Of(p.Needed), p.Spare, p.Item)
		}
		f := purchases[0]
		require.Equal(t, "f", f.Item)
		require.GreaterOrEqual(t, f.Needed, measured, "the loads hold more than is bought")
		require.GreaterOrEqual(t, microlitres(f.Needed).Cmp(all), 0)
		require.Negative(t, microlitres(f.Needed-1).Cmp(all))
	})
}

// sprayer is settings with one size of tank, whatever it feeds.
func sprayer(tank quantity.Microlitres) *treatment.Settings {
	return &treatment.Settings{Tank: tank, HandgunTank: tank}
}
