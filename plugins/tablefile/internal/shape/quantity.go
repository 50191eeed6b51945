package shape

import (
	"fmt"
	"math"
	"math/big"
	"regexp"
	"strings"

	"example.org/rootward/rules/quantity"
)

// unit is what a number is multiplied by to give the whole units of the contract.
type unit struct {
	name  string
	times *big.Rat
}

func times(v int64) *big.Rat { return big.NewRat(v, 1) }

// scale is the units of one kind of quantity, in the order in which they are tried
// when a value is written; the last is the contract's own, which always serves.
type scale struct {
	units   []unit
	example string
	zero    string // how nothing is written
	// down says that what is not whole is rounded down instead of refused: a maximum
	// as it is printed is never loosened, as in quantity.KilogramsPerHectare.
	down bool
}

var scales = map[Kind]*scale{
	Length: {example: "100 ft", zero: "0 ft", units: []unit{
		{"mi", times(int64(quantity.Mile))}, {"ft", times(int64(quantity.Foot))},
		{"m", times(int64(quantity.Metre))}, {"in", times(int64(quantity.Inch))},
		{"cm", times(int64(quantity.Centimetre))}, {"mm", times(int64(quantity.Millimetre))}, {"um", times(1)},
	}},
	// An acre is 43,560 square feet of 304.8 mm (package quantity).
	Area: {example: "5 acres", zero: "0 m2", units: []unit{
		{"ha", times(int64(quantity.Hectare))}, {"acres", big.NewRat(40_468_564_224, 10)}, {"acre", big.NewRat(40_468_564_224, 10)},
		{"sq ft", big.NewRat(9_290_304, 100)}, {"m2", times(int64(quantity.SquareMetre))},
		{"cm2", times(int64(quantity.SquareCentimetre))}, {"mm2", times(1)},
	}},
	// A pound is 453.59237 g; a kg/ha is 404,685,642.24 ug/acre (package quantity).
	Rate: {example: "8 lb ae/acre", zero: "0 lb ae/acre", down: true, units: []unit{
		{"lb ae/acre", times(453_592_370)}, {"kg ae/ha", big.NewRat(40_468_564_224, 100)}, {"ug ae/acre", times(1)},
	}},
}

// Units lists the units of a kind of quantity.
func Units(k Kind) []string {
	var names []string
	for _, u := range scales[k].units {
		names = append(names, u.name)
	}
	return names
}

// QuantityPattern is a regular expression that a quantity of the kind fits.
func QuantityPattern(k Kind) string {
	return `^(just (under|over) )?-?[0-9]{1,19}(\.[0-9]{1,18})? ?(` + strings.Join(Units(k), "|") + `)$`
}

var quantityText = regexp.MustCompile(`^(-?[0-9]{1,19}(?:\.[0-9]{1,18})?) ?(.*)$`)

// The prefixes for the values next to a limit, which worked cases need: one whole
// unit of the contract less or more, for there is none between.
const (
	justUnder = "just under "
	justOver  = "just over "
)

// ParseQuantity reads a number with its unit. Its error names what is wrong and
// how it is written instead.
func ParseQuantity(k Kind, text string) (int64, error) {
	if limit, found := strings.CutPrefix(text, justUnder); found {
		v, err := parseQuantity(k, limit)
		return max(v, math.MinInt64+1) - 1, err
	}
	if limit, found := strings.CutPrefix(text, justOver); found {
		v, err := parseQuantity(k, limit)
		return min(v, math.MaxInt64-1) + 1, err
	}
	return parseQuantity(k, text)
}

func parseQuantity(k Kind, text string) (int64, error) {
	s := scales[k]
	parts := quantityText.FindStringSubmatch(text)
	if parts == nil {
		return 0, fmt.Errorf("%q is not a number with a unit; write it like %q", text, s.example)
	}
	if parts[2] == "" {
		return 0, fmt.Errorf("%q has no unit; add one of %s, as in %q", text, strings.Join(Units(k), ", "), s.example)
	}
	for _, u := range s.units {
		if u.name == parts[2] {
			return s.whole(text, parts[1], u)
		}
	}
	return 0, fmt.Errorf("%q is not a unit that is known here; use one of %s", parts[2], strings.Join(Units(k), ", "))
}

func (s *scale) whole(text, number string, u unit) (int64, error) {
	value, _ := new(big.Rat).SetString(number)
	value.Mul(value, u.times)
	below := new(big.Int).Div(value.Num(), value.Denom()) // Euclidean: towards minus infinity for a positive divisor
	base := s.units[len(s.units)-1].name
	switch {
	case !below.IsInt64():
		return 0, fmt.Errorf("%q is larger than this program can hold", text)
	case !value.IsInt() && !s.down:
		return 0, fmt.Errorf("%q is %s %s, which is not whole; write \"%d %s\" or \"%d %s\", whichever is stricter", text,
			strings.TrimRight(value.FloatString(6), "0"), base, below, base, below.Int64()+1, base)
	}
	return below.Int64(), nil
}

// FormatQuantity writes a value in the first unit of which it is at least a tenth
// and has at most three decimals; next to such a value as just under or over it;
// else in the contract's own unit.
func FormatQuantity(k Kind, v int64) string {
	if text, ok := formatShort(k, v); ok {
		return text
	}
	if text, ok := formatShort(k, v+1); ok && v < math.MaxInt64 {
		return justUnder + text
	}
	if text, ok := formatShort(k, v-1); ok && v > math.MinInt64 {
		return justOver + text
	}
	units := scales[k].units
	return fmt.Sprintf("%d %s", v, units[len(units)-1].name)
}

func formatShort(k Kind, v int64) (string, bool) {
	s := scales[k]
	if v == 0 {
		return s.zero, true
	}
	for _, u := range s.units[:len(s.units)-1] {
		thousandths := new(big.Rat).Quo(times(v), u.times)
		thousandths.Mul(thousandths, times(1_000))
		if u.name != "acre" && thousandths.IsInt() && thousandths.Num().CmpAbs(big.NewInt(100)) >= 0 {
			return decimal(thousandths.Quo(thousandths, times(1_000))) + " " + u.name, true
		}
	}
	return "", false
}

// decimal writes a number of at most three decimals.
func decimal(number *big.Rat) string {
	return strings.TrimSuffix(strings.TrimRight(number.FloatString(3), "0"), ".")
}
