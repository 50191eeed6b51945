package open

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// micrometres keep lengths whole, so that an inch and a centimetre meet exactly.
type micrometres int64

const (
	centimetre   micrometres = 10_000
	metre        micrometres = 1_000_000
	inch         micrometres = 25_400
	foot         micrometres = 12 * inch
	breastHeight micrometres = 1_370_000 // 1.37 m, forest inventory practice of the United States, from memory
	leastTree    micrometres = 10 * centimetre
)

// unknown stands for a length that nobody measured.
const unknown micrometres = -1

// stem is one measured stem, its position in metres from its site's origin.
type stem struct {
	east, north      float64
	diameter, height micrometres
}

// mapped reads a row of x_m, y_m, dbh_cm.
func mapped(row []string, _ int) (stem, error) {
	s := stem{height: unknown}
	return s, readAll(
		number(row[0], &s.east),
		number(row[1], &s.north),
		length(row[2], centimetre, &s.diameter))
}

// mappedWithHeight reads a row of x_m, y_m, diameter_cm, height_m.
func mappedWithHeight(row []string, _ int) (stem, error) {
	var s stem
	return s, readAll(
		number(row[0], &s.east),
		number(row[1], &s.north),
		length(row[2], centimetre, &s.diameter),
		length(row[3], metre, &s.height))
}

// The grid invented for stems without positions, in metres: it fills a hectare.
const (
	gridColumns = 6
	gridSpacing = 16
	gridMargin  = 10
)

// unmapped reads a row of girth_in (a diameter), height_ft, volume_ft3.
func unmapped(row []string, index int) (stem, error) {
	s := stem{
		east:  gridMargin + gridSpacing*float64(index%gridColumns),
		north: gridMargin + gridSpacing*float64(index/gridColumns),
	}
	return s, readAll(
		length(row[0], inch, &s.diameter),
		length(row[1], foot, &s.height))
}

// form is the word the row is given, by diameter alone.
func (s stem) form() string {
	if s.diameter >= leastTree {
		return "tree"
	}
	return "sapling"
}

// diameters gives dbh_cm and root_collar_cm, one of them blank: a stem lower
// than breast height has no diameter there.
func (s stem) diameters() (breast, collar string) {
	if s.height != unknown && s.height < breastHeight {
		return "", decimal(s.diameter, centimetre)
	}
	return decimal(s.diameter, centimetre), ""
}

// decimal writes a length in a unit that is a power of ten of micrometres,
// without trailing zeros; an unknown length is blank.
func decimal(l, unit micrometres) string {
	if l == unknown {
		return ""
	}
	digits := len(strconv.FormatInt(int64(unit), 10)) - 1
	text := fmt.Sprintf("%d.%0*d", l/unit, digits, l%unit)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

func readAll(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func number(text string, to *float64) (err error) {
	*to, err = strconv.ParseFloat(text, 64)
	return err
}

// length reads a number of units, to the nearest micrometre.
func length(text string, unit micrometres, to *micrometres) error {
	var v float64
	err := number(text, &v)
	*to = micrometres(math.Round(v * float64(unit)))
	return err
}
