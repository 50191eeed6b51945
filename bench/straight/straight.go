// Package straight answers the bench's question as somebody would write it by hand for
// these rules alone. It does what the core does for a row: it reads the same stem,
// decides, doses what it chose and holds the dose against the site's annual maximum.
package straight

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"

	"example.org/rootward/bench/question"
)

// Site is ground that is treated as one, with what is used up of its maxima.
type Site struct {
	Place                          int64
	Area                           quantity.SquareMillimetres
	glyphosateUsed, imazapyrUsed   quantity.MicrogramsAE
	glyphosateLimit, imazapyrLimit quantity.MicrogramsAE
}

// NewSite makes a site.
func NewSite(place int64, area quantity.SquareMillimetres) *Site {
	return &Site{
		Place: place, Area: area,
		glyphosateLimit: quantity.PoundsPerAcre(8).On(area), imazapyrLimit: quantity.PoundsPerAcre(1).On(area),
	}
}

// The limits, in micrometres.
const (
	inch = int64(quantity.Inch)
	foot = int64(quantity.Foot)
)

// best is the best treatment met so far.
type best struct{ answer question.Answer }

// offer takes a treatment if it is better.
func (b *best) offer(stands, dense, unpublished, reaches, at int64) {
	if a := question.Answer((((stands*2+dense)*2+unpublished)*4+reaches)*16 + at); a < b.answer {
		b.answer = a
	}
}

// Stem is a stem as such a program would hold it, with the distance to each class of
// water in its place.
type Stem struct {
	*treatment.Stem
	water [16]distance
}

type distance struct {
	rules.WaterDistance
	known bool
}

// Of makes a stem from the core's.
func Of(s *treatment.Stem) Stem {
	own := Stem{Stem: s}
	for _, c := range rules.Words[rules.WaterClass]() {
		own.water[c].WaterDistance, own.water[c].known = s.Water.Get(c)
	}
	return own
}

// facts are what several treatments ask of a stem.
type facts struct {
	*Stem
	creek, lawless, suckers, ailanthus, dense bool
}

// Answer decides a row, and gives its dose where something is applied.
func Answer(s *Stem, site *Site) (question.Answer, treatment.Dose) {
	f := facts{Stem: s, creek: site.Place == question.OsselCreek, lawless: site.Place == question.LowerFen, dense: s.PerHectare >= 4_943}
	switch s.Species {
	case "Ailanthus altissima":
		f.ailanthus, f.suckers = true, true
	case "Robinia pseudoacacia", "Populus alba", "Elaeagnus umbellata", "Elaeagnus angustifolia", "Paulownia tomentosa":
		f.suckers = true
	case "Pyrus calleryana", "Rhamnus cathartica", "Frangula alnus", "Lonicera maackii", "Ligustrum sinense":
	default:
		return question.NoStem, treatment.Dose{}
	}
	if s.Diameter == 0 {
		return question.NoStem, treatment.Dose{}
	}
	b := best{question.Refused}
	f.foliar(&b)
	f.onCuts(&b)
	f.pull(&b)
	if b.answer >= question.Refused || !b.answer.Prescribed() {
		return b.answer, treatment.Dose{}
	}
	return b.answer, f.dose(b.answer, site)
}

// stands is the first digit of an answer with a product.
func stands(undecided, unknown bool) int64 {
	switch {
	case undecided:
		return 10
	case unknown:
		return 9
	}
	return 5
}

func flag(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// water sums up what buffers say.
type water struct{ broken, undecided bool }

// own holds the distance to a class of water, or that of all other water, against a
// buffer.
func (w *water) own(s *Stem, class rules.WaterClass, least int64, from rules.DistanceOrigin) {
	d := &s.water[class&15]
	switch {
	case !d.known || d.Origin == 0:
		w.undecided = true
	case int64(d.Distance) >= least && d.Origin >= from:
	case int64(d.Distance) < least && d.Origin <= from && !d.AtLeast:
		w.broken = true
	default:
		w.undecided = true
	}
}

func (f *facts) foliar(b *best) {
	if f.Form == rules.Stump || f.Desirable == rules.DesirableSprayReach || int64(f.Height) > 10*foot {
		return
	}
	f.spray(b, 0, f.dense, 25*foot, false)
	f.spray(b, 1, true, 10*foot, false)
	f.spray(b, 2, f.Desirable != rules.DesirableRootReach && !(f.creek && f.LandUse == rules.AquaticMargin), 10*foot, true)
}

func (f *facts) spray(b *best, at int64, fits bool, open int64, soilActive bool) {
	if !fits {
		return
	}
	if f.Slope > 300 {
		open = 50 * foot
	}
	w := water{undecided: f.lawless || soilActive && f.creek && f.LandUse == 0}
	w.own(f.Stem, rules.PerennialStream, open, rules.WaterEdge)
	w.own(f.Stem, rules.Lake, open, rules.WaterEdge)
	w.own(f.Stem, rules.Estuary, open, rules.WaterEdge)
	w.own(f.Stem, rules.Wetland, open, rules.WetlandBoundary)
	w.own(f.Stem, rules.Well, 100*foot, rules.WaterEdge)
	if f.creek {
		f.fromCreek(&w, 100*foot)
	}
	f.product(&w, soilActive)
	if w.broken {
		return
	}
	reaches := flag(f.Desirable != rules.DesirableNone)
	if soilActive {
		reaches += 2
	}
	published := f.ailanthus && (f.Form == rules.RootSucker || f.Form == rules.StumpSprout || f.Form == rules.Sapling)
	b.offer(stands(w.undecided, f.Desirable == 0 || f.Height == 0), 0, flag(!published), reaches, at)
}

func (f *facts) fromCreek(w *water, least int64) {
	w.own(f.Stem, rules.PerennialStream, least, rules.BankTop)
	w.own(f.Stem, rules.IntermittentStream, least, rules.BankTop)
	w.own(f.Stem, rules.Lake, least, rules.BankTop)
	w.own(f.Stem, rules.Wetland, least, rules.BankTop)
}

// product is what the buffers of the product say: imazapyr's of drinking water,
// glyphosate's of all water.
func (f *facts) product(w *water, soilActive bool) {
	if !soilActive {
		for _, c := range [...]rules.WaterClass{
			rules.PerennialStream, rules.IntermittentStream, rules.Ditch, rules.Lake, rules.Wetland, rules.Estuary,
		} {
			w.own(f.Stem, c, 1, rules.WaterEdge)
		}
		return
	}
	if f.creek {
		w.own(f.Stem, rules.Well, 300*foot, rules.WaterEdge)
		w.own(f.Stem, rules.Spring, 300*foot, rules.WaterEdge)
		w.own(f.Stem, rules.Intake, 300*foot, rules.WaterEdge)
	}
}

func (f *facts) onCuts(b *best) {
	if f.Bark == rules.BarkFrozen {
		return
	}
	if int64(f.Diameter) >= inch && (f.Form == rules.Tree || f.Form == rules.Sapling || f.Form == rules.RootSucker) {
		f.cut(b, 3, flag(!f.ailanthus), false)
		if f.Desirable != rules.DesirableSprayReach && f.Desirable != rules.DesirableRootReach && !(f.creek && f.LandUse == rules.AquaticMargin) {
			f.cut(b, 4, flag(!f.ailanthus), true)
		}
	}
	if !f.suckers && f.Form != rules.Seedling && f.Form != rules.RootSucker {
		f.cut(b, 6, 0, false)
	}
}

func (f *facts) cut(b *best, at, unpublished int64, soilActive bool) {
	w := water{undecided: f.lawless || soilActive && f.creek && f.LandUse == 0}
	w.own(f.Stem, rules.Well, 50*foot, rules.WaterEdge)
	if f.creek && !soilActive {
		f.fromCreek(&w, 15*foot)
	}
	f.product(&w, soilActive)
	if w.broken {
		return
	}
	b.offer(stands(w.undecided, soilActive && f.Desirable == 0), flag(f.dense), unpublished, 2*flag(soilActive), at)
}

func (f *facts) pull(b *best) {
	if f.Form != rules.Seedling || f.RootCheck == rules.LateralRoot || f.suckers && f.RootCheck != rules.Taproot {
		return
	}
	if int64(f.Diameter) > inch || f.Soil != rules.SoilMoist && f.Soil != 0 {
		return
	}
	switch {
	case f.lawless:
		b.offer(10, 0, 0, 0, 5)
	case f.Soil == 0:
		b.offer(8, 0, 0, 0, 5)
	default:
		b.offer(4, 0, 0, 0, 5)
	}
}
