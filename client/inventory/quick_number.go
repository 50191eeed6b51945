package inventory

import (
	"encoding/binary"
	"math"
)

// plainDecimal reads a decimal number of few digits, without a sign, exactly as
// strconv.ParseFloat does: both parts of the division are whole numbers that a
// float64 holds, so that it rounds once.
func plainDecimal(text []byte) (v float64, ok bool) {
	v, _, ok = plainDecimals(text)
	return v, ok
}

// plainDecimals tells how many digits are behind the point besides.
func plainDecimals(text []byte) (v float64, decimals int, ok bool) {
	const digits = 15 // 10^15 < 2^53
	if len(text) > digits || len(text) == 0 {
		return 0, 0, false
	}
	whole, point := uint64(0), -1
	for i, b := range text {
		switch {
		case b-'0' <= 9:
			whole = whole*10 + uint64(b-'0')
		case b == '.' && point < 0:
			point = i
		default:
			return 0, 0, false
		}
	}
	switch {
	case point < 0:
		return float64(whole), 0, true
	case len(text) == 1:
		return 0, 0, false // a point alone
	}
	decimals = len(text) - 1 - point
	return float64(whole) / powersOfTen[decimals], decimals, true
}

// plainDegrees is plainDecimals, for up to three digits before the point and eight behind
// it without a look at each of these, where there is room behind the text.
func plainDegrees(text []byte) (v float64, decimals int, ok bool) {
	whole, point := uint64(0), 0
	for point < len(text) && point < 4 && text[point]-'0' <= 9 {
		whole = whole*10 + uint64(text[point]-'0')
		point++
	}
	decimals = len(text) - 1 - point
	if point > 3 || decimals < 1 || decimals > 8 || text[point] != '.' || cap(text) < point+9 {
		return plainDecimals(text)
	}
	// The digits come to stand at the end of eight, behind zeros.
	digits := (binary.LittleEndian.Uint64(text[point+1:point+9]) ^ 0x3030303030303030) << (64 - 8*decimals)
	const aboveNine = 0x7676767676767676 // which carries into the highest bit
	if (digits+aboveNine|digits)&0x8080808080808080 != 0 {
		return 0, 0, false
	}
	// Pairs of digits, then all four of these.
	pairs := digits*10 + digits>>8
	const evens = 0x000000FF000000FF
	part := (pairs&evens*(100+1_000_000<<32) + pairs>>16&evens*(1+10_000<<32)) >> 32
	return (float64(whole*uint64(powersOfTen[decimals]) + part)) / powersOfTen[decimals], decimals, true
}

var powersOfTen = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// halfUnits are half a unit of the last decimal place, by their number, as halfUnit has
// them.
var halfUnits = func() (list [len(powersOfTen)]float64) {
	for n := range list {
		list[n] = math.Pow10(-n) / 2
	}
	return list
}()

// plainWhole reads digits alone.
func plainWhole(text []byte) (v int64, ok bool) {
	const digits = 15
	if len(text) > digits {
		return 0, false
	}
	for _, b := range text {
		if b-'0' > 9 {
			return 0, false
		}
		v = v*10 + int64(b-'0')
	}
	return v, true
}
