package inventory

import (
	"math"

	"example.org/rootward/rules/quantity"
)

// readPositions reads where the rows of lines lie, up to the first that needs care, and how
// far from there they may, as Chunker.stagePosition has it.
func (q *quick) readPositions(n int, unstated *float64) int {
	q.placed, q.within.stated, q.within.size = 0, 0, 0
	if q.latitude < 0 {
		return n
	}
	for half, field := range [2]int{q.latitude, q.longitude} {
		for i := range n {
			text, ok := q.line.cell(i, field)
			if len(text) > 0 {
				q.position[half][i], q.halfUnits[half][i], ok = degreesOf(text)
			} else {
				q.position[half][i] = math.NaN()
			}
			if !ok {
				n = i
				break
			}
		}
	}
	for i := range n {
		placed := !math.IsNaN(q.position[0][i])
		if placed == math.IsNaN(q.position[1][i]) {
			n = i // half a position
			break
		}
		if placed {
			q.placed |= 1 << i
		}
	}
	return q.readWithin(n, unstated)
}

// degreesOf reads half a position, and half a unit of its last decimal; one that needs care
// is not ok.
func degreesOf(text []byte) (v, halfUnit float64, ok bool) {
	sign := 1.0
	if text[0] == '-' {
		text, sign = text[1:], -1
	}
	v, decimals, ok := plainDegrees(text)
	return sign * v, halfUnits[decimals], ok
}

// readWithin works out how far rows may lie from their positions.
func (q *quick) readWithin(n int, unstated *float64) int {
	least := 0.0
	if unstated != nil {
		least = *unstated
	}
	c := &q.within
	for i := range n {
		metres := least
		if q.uncertainty >= 0 {
			if v := math.Float64frombits(uint64(q.columns[q.uncertainty].values[i])); v > 0 {
				metres = v
			}
		}
		v := &notWithin
		if q.placed>>i&1 != 0 && (metres > 0 || unstated != nil) {
			if v = q.withinAt(i, metres); v.size > 8 {
				return i
			}
		}
		c.size = c.put(i, c.size, v)
	}
	return n
}

// notWithin is that of a row of which nothing is known.
var notWithin = func() (v cellValue) {
	v.encoding, v.size = encoded(colUncertainty, absent[colUncertainty])
	return v
}()

// nearness is how far rows of some latitudes may lie from their positions, all equally far.
type nearness struct {
	metres   float64    // that they state
	half     [2]float64 // units of their last decimals
	from, to float64    // latitudes north or south
	settled  bool
	cellValue
}

// withinAt gives how far the row of a line may lie from its position. The rounding of a
// position shrinks as its latitude grows, so that between two latitudes for which all
// comes to the same number of micrometres it does so, too; it is taken for settled only
// where the floating-point numbers are far from the next whole one, for what their own
// rounding amounts to.
func (q *quick) withinAt(i int, metres float64) *cellValue {
	const (
		bands    = 256 // of a degree
		farApart = 1e9 // micrometres, whose floating-point numbers lie 1e-7 apart
		margin   = 1e-3
	)
	latitude, half := q.position[0][i], [2]float64{q.halfUnits[0][i], q.halfUnits[1][i]}
	at := math.Abs(latitude)
	near := &q.near[(uint(at*bands)*31+uint(metres)*7)%uint(len(q.near))]
	isSame := near.metres == metres && near.half == half && near.size > 0
	if isSame && near.from <= at && at <= near.to {
		return &near.cellValue
	}
	within := metres + roundingAt(latitude, half[0], half[1])
	micrometres := within * float64(quantity.Metre)
	_, part := math.Modf(micrometres)
	settled := micrometres < farApart && part > margin && part < 1-margin
	value := metresUp.convert(within)
	if isSame && near.settled && settled && near.value == value {
		near.from, near.to = min(near.from, at), max(near.to, at)
		return &near.cellValue
	}
	*near = nearness{metres: metres, half: half, from: at, to: at, settled: settled}
	near.value, near.stated = value, 1
	near.encoding, near.size = encoded(colUncertainty, value)
	return &near.cellValue
}
