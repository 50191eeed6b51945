package many

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
)

// absent stands for what a row does not state.
const absent = -1

// row is what is known of one row, in the units of its columns.
type row struct {
	number     int64
	site       *site
	siteID     string
	species    string
	form       commonv1.GrowthForm
	diameter   int64 // tenths of an inch
	rootCollar bool  // where the diameter was taken
	height     int64 // feet
	count      int64
	perHectare int64
	area       int64 // square metres
	larger     int64
	largerDBH  int64 // tenths of an inch

	desirable commonv1.Desirable
	soil      commonv1.SoilState
	bark      commonv1.BarkState
	rootCheck commonv1.RootCheck
	seed      commonv1.YesNo
	slope     int64 // percent

	latitude, longitude int64 // millionths of a degree
	uncertainty         int64 // metres

	stream, wetland, well             int64 // feet
	streamFrom, wetlandFrom, wellFrom commonv1.DistanceOrigin
	beyond                            int64 // feet

	fault fault
}

// fault is what is wrong with a row on purpose.
type fault int

const (
	sound          fault = iota
	unknownSpecies       // the server rejects it
	noNumber             // the diameter is no number: the reader rejects it
)

// One row in so many has the fault.
const (
	unknownSpeciesEvery = 1_000
	noNumberEvery       = 700
)

// dice is a sequence of numbers of its own for each row, so that a row is the same
// whichever rows are made before it (the mixing function of SplitMix64: Steele,
// Lea and Flood, 2014).
type dice uint64

func diceFor(seed uint64, number int64) dice {
	d := dice(seed)
	return d ^ dice(uint64(number)*0x9E3779B97F4A7C15)
}

func (d *dice) next() uint64 {
	*d += 0x9E3779B97F4A7C15
	z := uint64(*d)
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return z ^ z>>31
}

// below draws from 0 to n-1; the bias of the remainder does not matter here.
func (d *dice) below(n int64) int64 { return int64(d.next() >> 1 % uint64(n)) }

func (d *dice) between(from, to int64) int64 { return from + d.below(to-from+1) }

func (d *dice) oneIn(n int64) bool { return d.below(n) == 0 }

// stand is a kind of stem that is met with, and how often out of all.
type stand struct {
	share    int64
	form     commonv1.GrowthForm
	species  []string
	diameter [2]int64 // tenths of an inch, from and to
	collar   bool
	height   [2]int64 // feet; zero: follows from the diameter
	patch    bool
}

var (
	suckering = []string{"Ailanthus altissima", "Robinia pseudoacacia", "Ailanthus altissima", "Populus alba", "Ailanthus altissima", "Paulownia tomentosa"}
	sprouting = []string{"Elaeagnus umbellata", "Rhamnus cathartica", "Pyrus calleryana", "Lonicera maackii", "Elaeagnus angustifolia", "Ligustrum sinense"}
)

var stands = []stand{
	{25, commonv1.GrowthForm_GROWTH_FORM_TREE, suckering, [2]int64{61, 240}, false, [2]int64{}, false},
	{24, commonv1.GrowthForm_GROWTH_FORM_SAPLING, suckering, [2]int64{5, 60}, false, [2]int64{}, false},
	{18, commonv1.GrowthForm_GROWTH_FORM_ROOT_SUCKER, suckering, [2]int64{2, 9}, true, [2]int64{2, 10}, false},
	{12, commonv1.GrowthForm_GROWTH_FORM_SAPLING, sprouting, [2]int64{5, 35}, false, [2]int64{6, 14}, false},
	{7, commonv1.GrowthForm_GROWTH_FORM_STUMP_SPROUT, sprouting, [2]int64{2, 12}, true, [2]int64{3, 9}, false},
	{5, commonv1.GrowthForm_GROWTH_FORM_STUMP, sprouting, [2]int64{40, 180}, true, [2]int64{1, 1}, false},
	{5, commonv1.GrowthForm_GROWTH_FORM_SEEDLING, suckering, [2]int64{1, 5}, true, [2]int64{1, 3}, false},
	{4, commonv1.GrowthForm_GROWTH_FORM_ROOT_SUCKER, suckering, [2]int64{2, 8}, true, [2]int64{3, 9}, true},
}

const allShares = 100

func (d *dice) stand() *stand {
	at := d.below(allShares)
	for i := range stands {
		if at -= stands[i].share; at < 0 {
			return &stands[i]
		}
	}
	panic("many: the shares of the stands are not 100 together")
}

// generator draws the rows of one inventory; with a seed alone it is ready.
type generator struct {
	seed uint64
	spot spot
}

// draw makes the row of a number.
func (g *generator) draw(number int64) row {
	if at := (number - 1) / perSpot; g.spot.number != at+1 {
		g.spot = newSpot(g.seed, at)
	}
	d := diceFor(g.seed, number)
	s := d.stand()
	r := row{
		number: number, site: g.spot.site, siteID: g.spot.siteID, species: g.spot.speciesOf(s.species, &d), form: s.form,
		diameter: d.between(s.diameter[0], s.diameter[1]), rootCollar: s.collar,
		height: d.between(s.height[0], s.height[1]), count: 1,
		perHectare: absent, area: absent, larger: absent, largerDBH: absent,
		desirable: g.spot.desirable, soil: g.spot.soil, bark: g.spot.bark, seed: commonv1.YesNo_YES_NO_NO,
		slope: g.spot.slope + d.below(4),
	}
	if r.height == 0 {
		r.height = 8 + 3*r.diameter/10 + d.below(6)
	}
	if s.patch {
		r.dense(&d)
	}
	r.look(&d)
	g.spot.locate(&r, &d)
	r.spoil(&d)
	return r
}

// dense makes a patch of it, that nobody counted stem by stem.
func (r *row) dense(d *dice) {
	r.count, r.perHectare, r.area = absent, d.between(30, 160)*100, d.between(20, 400)
	if d.oneIn(3) {
		r.larger, r.largerDBH = d.between(1, 8), d.between(15, 80)
	}
}

// look is what was seen of the single stem.
func (r *row) look(d *dice) {
	if d.oneIn(100) {
		r.desirable = commonv1.Desirable(d.below(4))
	}
	if r.form == commonv1.GrowthForm_GROWTH_FORM_TREE && d.below(5) < 2 {
		r.seed = commonv1.YesNo_YES_NO_YES
	}
	if r.form == commonv1.GrowthForm_GROWTH_FORM_SEEDLING {
		r.rootCheck = commonv1.RootCheck(d.between(1, 3))
	}
}

func (r *row) spoil(d *dice) {
	switch {
	case d.oneIn(unknownSpeciesEvery):
		r.species, r.fault = "Arbor ignota", unknownSpecies
	case d.oneIn(noNumberEvery):
		r.fault = noNumber
	}
}
