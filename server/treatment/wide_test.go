package treatment

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func (w wide) big() *big.Int {
	n := new(big.Int).SetUint64(w.hi)
	return n.Lsh(n, 64).Or(n, new(big.Int).SetUint64(w.lo))
}

// math/big, which knows nothing of 128 bits, says the same, and what is beyond them is the
// widest that there is.
func TestWideNumbersAreThoseOfBig(t *testing.T) {
	limit := widest.big()
	rapid.Check(t, func(t *rapid.T) {
		number := func(label string) int64 {
			return rapid.Int64Range(0, math.MaxInt64).Draw(t, label) >> rapid.IntRange(0, 63).Draw(t, "bits of "+label)
		}
		product := func() (wide, *big.Int) {
			want, factors := big.NewInt(1), make([]int64, rapid.IntRange(1, 4).Draw(t, "factors"))
			for i := range factors {
				factors[i] = number("factor")
				if want.Mul(want, big.NewInt(factors[i])); want.Cmp(limit) > 0 {
					want.Set(limit)
				}
			}
			return multiply(factors...), want
		}
		a, wantA := product()
		b, wantB := product()
		require.Zero(t, wantA.Cmp(a.big()), "%v, %v", wantA, a)
		sum := new(big.Int).Add(wantA, wantB)
		if sum.Cmp(limit) > 0 {
			sum.Set(limit)
		}
		require.Zero(t, sum.Cmp(a.plus(b).big()))
		by := max(1, number("divisor"))
		quotient := new(big.Int).Quo(sum, big.NewInt(by))
		got := a.plus(b).over(by)
		require.Zero(t, quotient.Cmp(got.big()))
		if quotient.IsInt64() {
			require.Equal(t, quotient.Int64(), got.whole())
		} else {
			require.EqualValues(t, math.MaxInt64, got.whole())
		}
	})
}
