package report

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSharesAreWrittenAsDecimals(t *testing.T) {
	shares := []int64{1, 1_000, 10_000, 1_000_000, 10_000_000}
	check := func(t require.TestingT, n, of int64) {
		require.Equal(t, decimal(float64(n)/float64(of)), string(appendShare(nil, n, of)), "%d/%d", n, of)
	}
	for n := range int64(20_000) {
		for _, of := range shares {
			check(t, n, of)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		check(t, rapid.Int64().Draw(t, "n"), rapid.SampledFrom(shares).Draw(t, "of"))
	})
	rapid.Check(t, func(t *rapid.T) {
		check(t, rapid.Int64Range(0, 1e15).Draw(t, "n"), rapid.SampledFrom(shares).Draw(t, "of"))
	})
}

func TestEightDigits(t *testing.T) {
	check := func(t require.TestingT, n uint64) {
		text, digits := strconv.FormatUint(100_000_000+n, 10)[1:], eightDigits(n)
		for i := range 8 {
			require.Equal(t, text[i]-'0', byte(digits>>(8*i)), n)
		}
	}
	for n := range uint64(10_000) {
		check(t, n)
		check(t, n*10_000)
	}
	rapid.Check(t, func(t *rapid.T) { check(t, rapid.Uint64Range(0, 99_999_999).Draw(t, "n")) })
}

func TestCountedNumbersAreWrittenAsNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c counted
		n := rapid.OneOf(rapid.Int64Range(0, 120), rapid.Int64Range(99_999_900, 100_000_100), rapid.Int64()).Draw(t, "first")
		for _, step := range rapid.SliceOfN(rapid.OneOf(rapid.Just(int64(1)), rapid.Int64Range(-3, 12)), 0, 40).Draw(t, "steps") {
			require.Equal(t, "n "+strconv.FormatInt(n, 10), string(c.append([]byte("n "), n)))
			n += step
		}
	})
}
