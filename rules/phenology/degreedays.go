package phenology

import (
	"fmt"
	"math"

	"example.org/rootward/rules/civil"
)

// DegreeDays is a sum of warmth in ten-thousandths of a degree day. A quarter of a
// hundredth of a degree, the least that any of the methods takes, is a whole number
// of them.
type DegreeDays int64

// DegreeDay is one degree above the base for one day.
const DegreeDay DegreeDays = 10_000

// Float gives degree days, for people.
func (d DegreeDays) Float() float64 { return float64(d) / float64(DegreeDay) }

// Method is how the degree days of a day are computed from its least and greatest
// temperature. They differ, so that a rule names its own.
type Method uint8

// The methods.
const (
	// PlainAverage is the mean of least and greatest less the base, never below zero
	// (Iowa State University, Agronomy 541, lesson 2b).
	PlainAverage Method = iota + 1
	// CappedAverage is PlainAverage after the greatest was brought down to the cap
	// and the least up to the base: 86 and 50 °F, which are 30 and 10 °C, in the
	// method of that name (a Wisconsin county extension, 2018).
	CappedAverage
	// FourCase tells apart whether the base lies below, above or between the least
	// and greatest temperature, and on which side of their mean (Met Éireann,
	// degree-day formulae, cases I to IV).
	FourCase
	// SingleSine is the area above the base under one sine curve between least and
	// greatest (the definition; integrated here in closed form).
	SingleSine
)

var methods = [...]string{"", "plain average", "capped average", "four-case", "single sine"}

// String gives the method's name.
func (m Method) String() string {
	if int(m) >= len(methods) || m == 0 {
		return fmt.Sprintf("method %d", uint8(m))
	}
	return methods[m]
}

// Model is a way to count warmth.
type Model struct {
	Method Method
	Base   int32 // in hundredths of a degree, of the same scale as the temperatures
	Cap    int32 // for CappedAverage
}

// Day gives the degree days of a day with a least and a greatest temperature, in
// hundredths of a degree; their order does not matter. It is never below zero, and
// zero for an unknown method.
func (m Model) Day(least, greatest int32) DegreeDays {
	low, high, base := int64(min(least, greatest)), int64(max(least, greatest)), int64(m.Base)
	switch m.Method {
	case PlainAverage:
		return average(low, high, base)
	case CappedAverage:
		limit := max(int64(m.Cap), base)
		bound := func(t int64) int64 { return min(max(t, base), limit) }
		return average(bound(low), bound(high), base)
	case FourCase:
		return fourCase(low, high, base)
	case SingleSine:
		return singleSine(low, high, base)
	}
	return 0
}

// One degree and fractions of it over a day, from hundredths of a degree.
const (
	whole   = DegreeDay / 100
	half    = whole / 2
	quarter = whole / 4
)

func average(low, high, base int64) DegreeDays { return max(0, DegreeDays(low+high-2*base)*half) }

func fourCase(low, high, base int64) DegreeDays {
	above, below := DegreeDays(high-base), DegreeDays(base-low)
	switch {
	case above <= 0:
		return 0
	case below <= 0:
		return average(low, high, base)
	case above > below:
		return above*half - below*quarter
	}
	return above * quarter
}

func singleSine(low, high, base int64) DegreeDays {
	if base <= low {
		return average(low, high, base)
	}
	if base >= high {
		return 0
	}
	mean, amplitude := float64(low+high)/2, float64(high-low)/2
	angle := math.Asin((float64(base) - mean) / amplitude) // within -1 and 1, for low < base < high
	area := ((mean-float64(base))*(math.Pi/2-angle) + amplitude*math.Cos(angle)) / math.Pi
	return max(0, DegreeDays(math.Round(area*float64(whole))))
}

// Sum gives the degree days from a day to another, both included, and false if the
// temperatures do not cover all of them. Least and Greatest are a day's each, from
// First on.
func (m Model) Sum(t Temperatures, from, to civil.Date) (DegreeDays, bool) {
	if !t.cover(from, to) {
		return 0, false
	}
	var sum DegreeDays
	for d := from; d <= to; d++ {
		sum += m.Day(t.at(d))
	}
	return sum, true
}

// Reached gives the first day, from a day to another, by whose end a sum was
// reached, and no date if it was not. Its error says which temperatures are wanting.
func (m Model) Reached(t Temperatures, from, to civil.Date, sum DegreeDays) (civil.Date, error) {
	if m.Method < PlainAverage || m.Method > SingleSine {
		return 0, fmt.Errorf("%s is none to count degree days by", m.Method)
	}
	var so DegreeDays
	for d := from; d <= to; d++ {
		if !t.cover(from, d) {
			return 0, fmt.Errorf("temperatures are known %s; state those from %s to %s", t.span(), from, to)
		}
		if so += m.Day(t.at(d)); so >= sum {
			return d, nil
		}
	}
	return 0, nil
}

// Temperatures is the least and the greatest temperature of each day, from First on,
// equally many.
type Temperatures struct {
	First           civil.Date
	Least, Greatest []int32
}

// cover reports whether every day from one to another is there; none are needed
// where the first is after the last.
func (t *Temperatures) cover(from, to civil.Date) bool {
	days := min(len(t.Least), len(t.Greatest))
	return from.Known() && (from > to || t.First.Known() && t.First <= from && int(to-t.First) < days)
}

func (t *Temperatures) at(d civil.Date) (least, greatest int32) {
	return t.Least[d-t.First], t.Greatest[d-t.First]
}

func (t *Temperatures) span() string {
	days := min(len(t.Least), len(t.Greatest))
	if days == 0 || !t.First.Known() {
		return "for no day"
	}
	return fmt.Sprintf("from %s to %s", t.First, t.First.AddDays(days-1))
}
