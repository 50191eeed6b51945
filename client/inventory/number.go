package inventory

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

var (
	commaNumber   = regexp.MustCompile(`^[+-]?\d[\d.]*(,\d+)+(\.\d+)?$`)
	exponential   = regexp.MustCompile(`^[+-]?(\d+(\.\d*)?|\.\d+)[eE][+-]?\d+$`)
	numberAndUnit = regexp.MustCompile(`^[+-]?(\d+(\.\d*)?|\.\d+)\s*["'°%\pL]`)
)

// decimal reads a plain decimal number. Its error names the slip where it can.
func decimal(text string) (float64, error) {
	if isPlainDecimal(text) {
		if v, err := strconv.ParseFloat(text, 64); err == nil {
			return v, nil
		}
		return 0, errors.New("is too large a number")
	}
	return 0, decimalSlip(text)
}

// isPlainDecimal accepts digits with an optional sign and an optional point.
func isPlainDecimal(text string) bool {
	digits, points := 0, 0
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case '0' <= c && c <= '9':
			digits++
		case c == '.':
			points++
		case (c == '+' || c == '-') && i == 0:
		default:
			return false
		}
	}
	return digits > 0 && points <= 1
}

func decimalSlip(text string) error {
	switch {
	case commaNumber.MatchString(text):
		return errors.New("has a comma; write a point before decimals and nothing between thousands: 6.5, 1200")
	case exponential.MatchString(text):
		return errors.New("has an exponent; write the number out: 1200, 0.001")
	case numberAndUnit.MatchString(text):
		return errors.New("has more than a number in it; write the number alone, since the column's name says the unit")
	}
	return errors.New("is not a number; write a plain decimal number such as 12.5, or leave the field empty where it is not known")
}

// wholeNumber reads an integer between two limits.
func wholeNumber(text string, least, most int64) (int64, error) {
	v, err := strconv.ParseInt(text, 10, 64)
	switch {
	case err == nil && v >= least && v <= most:
		return v, nil
	case err == nil || errors.Is(err, strconv.ErrRange):
		return 0, fmt.Errorf("is not a whole number from %d to %d", least, most)
	case isPlainDecimal(text):
		return 0, errors.New("is not a whole number; write it without decimals")
	}
	slip := decimalSlip(text)
	return 0, errors.New(strings.Replace(slip.Error(), "a plain decimal number such as 12.5", "a whole number such as 12", 1))
}

// nextUp is the next whole number, and the nearest where v misses it by no more
// than the two roundings that made v from a decimal text.
func nextUp(v float64) float64 {
	if nearest := math.Round(v); math.Abs(v-nearest) <= 1e-15*math.Abs(v) {
		return nearest
	}
	return math.Ceil(v)
}

// nextDown is nextUp to the other side.
func nextDown(v float64) float64 { return -nextUp(-v) }
