package treatment

import (
	"math"
	"math/bits"
)

// wide is a whole number in 128 bits, zero or more, that stops where it would wrap.
type wide struct{ hi, lo uint64 }

var widest = wide{math.MaxUint64, math.MaxUint64}

// multiply multiplies numbers of zero or more.
func multiply(factors ...int64) wide {
	p := wide{lo: 1}
	for _, f := range factors {
		over, hi := bits.Mul64(p.hi, uint64(f))
		carry, lo := bits.Mul64(p.lo, uint64(f))
		hi, more := bits.Add64(hi, carry, 0)
		if over != 0 || more != 0 {
			p = widest
			continue
		}
		p = wide{hi, lo}
	}
	return p
}

func (w wide) plus(v wide) wide {
	lo, carry := bits.Add64(w.lo, v.lo, 0)
	hi, carry := bits.Add64(w.hi, v.hi, carry)
	if carry != 0 {
		return widest
	}
	return wide{hi, lo}
}

// over divides by a number above zero, rounded down.
func (w wide) over(by int64) wide {
	hi, rest := w.hi/uint64(by), w.hi%uint64(by)
	lo, _ := bits.Div64(rest, w.lo, uint64(by))
	return wide{hi, lo}
}

// whole is the number in 63 bits.
func (w wide) whole() int64 {
	if w.hi != 0 || w.lo > math.MaxInt64 {
		return math.MaxInt64
	}
	return int64(w.lo)
}
