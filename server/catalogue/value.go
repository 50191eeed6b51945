package catalogue

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// A value is written as a number and its unit, "4 lb ae/gal". Each kind of value
// has its units; another unit, or none, is a fault.

type unit[T any] struct {
	name string
	of   func(float64) T
}

var (
	strengths = []unit[quantity.Strength]{{"lb ae/gal", quantity.PoundsPerGallon}, {"g ae/L", quantity.GramsPerLitre}}
	rates     = []unit[quantity.ArealRate]{{"lb ae/ac", quantity.PoundsPerAcre}, {"kg ae/ha", quantity.KilogramsPerHectare}}
	volumes   = []unit[quantity.Microlitres]{{"gal", quantity.Gallons}, {"L", quantity.Litres}, {"fl oz", quantity.FluidOunces}}
	lengths   = []unit[quantity.Micrometres]{{"in", quantity.Inches}, {"cm", quantity.Centimetres}}
	shares    = []unit[quantity.PerMillion]{{"%", quantity.Percent}}
)

func read[T ~int64](b *builder, field, text string, units []unit[T]) T {
	number, name, _ := strings.Cut(strings.TrimSpace(text), " ")
	v, err := strconv.ParseFloat(number, 64)
	i := slices.IndexFunc(units, func(u unit[T]) bool { return u.name == name })
	if err != nil || i < 0 || !(v > 0) || v > 1e6 {
		b.fault(field, "%q is not a number above 0 with one of the units %s, such as \"4 %s\"", text, unitNames(units), units[0].name)
		return 0
	}
	return units[i].of(v)
}

func unitNames[T any](units []unit[T]) string {
	names := make([]string, len(units))
	for i, u := range units {
		names[i] = u.name
	}
	return strings.Join(names, ", ")
}

// maxStrength is beyond any liquid: pure water weighs 1,000 g/L.
var maxStrength = quantity.GramsPerLitre(1_500)

func (b *builder) strength(field, text string) quantity.Strength {
	s := read(b, field, text, strengths)
	if s > maxStrength {
		b.fault(field, "%q is more acid than a litre can hold; at most %g g ae/L", text, maxStrength.GramsPerLitre())
	}
	return s
}

func (b *builder) arealRate(field, text string) quantity.ArealRate {
	return read(b, field, text, rates)
}
func (b *builder) volume(field, text string) quantity.Microlitres {
	return read(b, field, text, volumes)
}
func (b *builder) length(field, text string) quantity.Micrometres {
	return read(b, field, text, lengths)
}

// share reads a percentage of the mix; none is zero.
func (b *builder) share(field, text string) quantity.PerMillion {
	if text == "" {
		return 0
	}
	s := read(b, field, text, shares)
	if s > quantity.Percent(10) {
		b.fault(field, "%q is not at most 10 %%", text)
	}
	return s
}

func percent(v float64) quantity.PerMillion { return quantity.Percent(v) }

func tenThousandths(dollars float64) int64 { return int64(math.Round(dollars * 1e4)) }

// active demands the one spelling by which amounts of an active ingredient are
// added up.
func (b *builder) active(name string) {
	b.given("active", name)
	if name != strings.ToLower(strings.TrimSpace(name)) {
		b.fault("active", "%q is not written in lower case without spaces around it", name)
	}
}

func (b *builder) given(field, text string) {
	if strings.TrimSpace(text) == "" {
		b.fault(field, "is empty")
	}
}

func (b *builder) within(field string, v, low, high int) {
	if v < low || v > high {
		b.fault(field, "%d is not %d to %d", v, low, high)
	}
}

// sources demands a source for each attribute.
func (b *builder) sources(sources map[string]string, attributes ...string) {
	for _, a := range attributes {
		if strings.TrimSpace(sources[a]) == "" {
			b.fault("sources."+a, "is empty; name the source, \"from memory\", or \"common practice, no source\"")
		}
	}
}

func oneWord[T rules.Vocabulary](b *builder, field, text string) T {
	v, err := rules.ParseWord[T](text)
	if err != nil {
		b.fault(field, "%v", err)
	}
	return v
}

func wordSet[T rules.Vocabulary](b *builder, field string, texts []string) rules.OneOf[T] {
	var set rules.OneOf[T]
	for _, text := range texts {
		set |= rules.AnyOf(oneWord[T](b, field, text))
	}
	return set
}
