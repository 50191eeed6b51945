package api

import (
	"math"

	"example.org/rootward/rules/quantity"
)

// measure is a number of a message: its field, whose name ends in the unit, and
// how it becomes a whole number of the core's unit and back.
type measure struct {
	field  string
	to     func(float64) int64
	from   func(int64) float64
	mayBe0 bool
	atMost int64 // zero: the core checks
}

func metres(field string) *measure {
	return &measure{
		field: field,
		to:    func(v float64) int64 { return int64(quantity.Metres(v)) },
		from:  func(n int64) float64 { return quantity.Micrometres(n).Metres() },
	}
}

func centimetres(field string) *measure {
	return &measure{
		field: field,
		to:    func(v float64) int64 { return int64(quantity.Centimetres(v)) },
		from:  func(n int64) float64 { return quantity.Micrometres(n).Centimetres() },
	}
}

func squareMetres(field string) *measure {
	return &measure{
		field: field,
		to:    func(v float64) int64 { return int64(quantity.SquareMetres(v)) },
		from:  func(n int64) float64 { return quantity.SquareMillimetres(n).SquareMetres() },
	}
}

// scaled is a number of so many core units each. Noise of the seventh decimal of
// a core unit is taken for what a decimal fraction loses in binary; beyond it the
// number is rounded up, which is the stricter side for what is counted so.
func scaled(field string, unit float64) *measure {
	return &measure{
		field: field,
		to:    func(v float64) int64 { return saturate(math.Ceil(v*unit - 1e-6)) },
		from:  func(n int64) float64 { return float64(n) / unit },
	}
}

// grams is a mass of acid equivalent, to the nearest microgram.
func grams(field string) *measure {
	return &measure{
		field: field,
		to:    func(v float64) int64 { return saturate(math.Round(v * float64(quantity.GramAE))) },
		from:  func(n int64) float64 { return quantity.MicrogramsAE(n).Grams() },
	}
}

func saturate(v float64) int64 {
	switch {
	case v >= math.MaxInt64:
		return math.MaxInt64
	case v <= math.MinInt64:
		return math.MinInt64
	}
	return int64(v)
}

// orZero lets the number be zero.
func (m *measure) orZero() *measure { m.mayBe0 = true; return m }

// upTo bounds the number, in the core's unit.
func (m *measure) upTo(limit int64) *measure { m.atMost = limit; return m }

func (m *measure) holds(n int64) bool {
	return n > 0 && (m.atMost == 0 || n <= m.atMost) || n == 0 && m.mayBe0
}

// real reads a number in the field's unit, and false if it is absent or wrong.
func (f *faults) real(path string, m *measure, v *float64) (int64, bool) {
	switch {
	case v == nil:
		return 0, false
	case math.IsNaN(*v) || math.IsInf(*v, 0):
		f.add(path+m.field, "%g is not a quantity: correct it, or leave the field out if it is not known", *v)
		return 0, false
	case *v > 0 && m.to(*v) == 0 && !m.mayBe0:
		f.add(path+m.field, "%g rounds to 0: correct it, or leave the field out if it is not known", *v)
		return 0, false
	}
	return f.whole(path, m, m.to(*v))
}

// whole reads a number in the core's unit, and false if it is wrong.
func (f *faults) whole(path string, m *measure, n int64) (int64, bool) {
	if m.holds(n) {
		return n, true
	}
	limit := "above 0"
	if m.mayBe0 {
		limit = "0 or more"
	}
	if n > 0 {
		f.add(path+m.field, "%g is more than %g: correct it, or leave the field out if it is not known", m.from(n), m.from(m.atMost))
	} else {
		f.add(path+m.field, "%g is not %s: correct it, or leave the field out if it is not known", m.from(n), limit)
	}
	return 0, false
}
