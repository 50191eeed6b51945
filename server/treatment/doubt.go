package treatment

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// doubt is what is odd about the measures of a stem: most likely somebody wrote them under
// another unit. It is told as a caution and decides nothing.
type doubt uint8

const (
	noDoubt doubt = iota
	tooThick
	tooStout
	tooSlender
)

const (
	// thickest is above all 1,245 stems of testdata/open, which go up to 132.5 cm. They are
	// of other species; that few of these get so thick is common practice, no source.
	thickest = 140 * quantity.Centimetre
	// stout is how many times its diameter a stem is high at the least: common practice, no
	// source. 1,379 broadleaved trees of a forest had 20 to 173 times (Iranian Journal of
	// Forest and Poplar Research, 2007, slenderness coefficient of five tree species; read
	// in the abstract), and in the open they are stouter.
	stout = 10
	// stoutFrom leaves out sprouts that are mown again and again, thick at the collar.
	stoutFrom    = 10 * quantity.Centimetre
	breastHeight = 1_370 * quantity.Millimetre // where a diameter is taken, from memory
	// slender is the cube of the height by the square of the diameter, in metres, at which a
	// column of wood bends under its own weight: black oak of a radius of 18 in stands up to
	// 90.2 m (A Mathematical Nature Walk, Princeton University Press, p. 170, read in an
	// excerpt). That it is the cube by the square is Greenhill's, from memory.
	slender = 880_000
	// slim is how many times as high as thick a stem may be that is not tall, without a doubt:
	// the cube by the square is less than slim squared by what is tall.
	slim = 100
	tall = slender / (slim * slim) * quantity.Metre
)

// doubt tells what is odd about a stem. Every stem is asked, and most are told at once that
// nothing is, without a branch that nothing foretells: none of these numbers is below zero.
func (s *Stem) doubt() doubt {
	d, h, larger := s.Diameter, s.Height, s.LargerDiameter
	above := h - breastHeight // what stands above the tape is to be carried
	if (thickest-d)|(thickest-larger)|(h-stout*d)|(slim*d-above)|(tall-above) >= 0 {
		return noDoubt
	}
	if max(d, larger) > thickest {
		return tooThick
	}
	if d == 0 || h == 0 || s.Form == rules.Stump { // a stump's height is that of the cut
		return noDoubt
	}
	if d > stoutFrom && stout*d > h {
		return tooStout
	}
	// The cube has one metre more in it than the square.
	high, across := float64(above), float64(d)
	if high*high*high > slender*float64(quantity.Metre)*across*across {
		return tooSlender
	}
	return noDoubt
}

var doubtTexts = [...]string{
	tooThick:   fmt.Sprintf("it is thicker than %g cm (%.3g in), which few trees are", quantity.Micrometres(thickest).Centimetres(), quantity.Micrometres(thickest).Inches()),
	tooStout:   fmt.Sprintf("it is less than %d times as high as it is thick", stout),
	tooSlender: "so tall a stem of this thickness would bend under its own weight",
}

var doubtSources = [...]string{
	tooThick: ruleOfThumb, tooStout: ruleOfThumb,
	tooSlender: "buckling of a column of wood; A Mathematical Nature Walk, p. 170, read in an excerpt",
}

// Cautions says what is odd about a stem's measures, for a dose follows them; most likely
// nothing is.
func (s *Stem) Cautions() []string {
	d := s.doubt()
	if d == noDoubt {
		return nil
	}
	what := "diameter and height and their units"
	if d == tooThick {
		what = "the diameter and its unit"
	}
	return []string{fmt.Sprintf("Check %s before anything is mixed: %s [%s].", what, doubtTexts[d], doubtSources[d])}
}
