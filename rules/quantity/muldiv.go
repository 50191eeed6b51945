package quantity

import (
	"math"
	"math/bits"
)

// mulDivFloor is a*b/c through 128 bits, rounded down, for values of zero or
// more; it saturates instead of wrapping.
func mulDivFloor(a, b, c int64) int64 {
	q, _ := mulDiv(a, b, c)
	return q
}

// mulDivCeil is mulDivFloor, rounded up.
func mulDivCeil(a, b, c int64) int64 {
	q, remainder := mulDiv(a, b, c)
	if remainder && q < math.MaxInt64 {
		q++
	}
	return q
}

func mulDiv(a, b, c int64) (quotient int64, remainder bool) {
	if a <= 0 || b <= 0 {
		return 0, false
	}
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	if hi >= uint64(c) {
		return math.MaxInt64, false
	}
	q, r := bits.Div64(hi, lo, uint64(c))
	if q > math.MaxInt64 {
		return math.MaxInt64, false
	}
	return int64(q), r != 0
}
