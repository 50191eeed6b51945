// Package columnar reads and writes what the messages in columns hold packed: the ids of
// rows, and explanations in pieces. Server and clients share it, and its codec.
package columnar

import (
	"fmt"
	"unicode/utf8"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Rows is the number of rows of a chunk.
func Rows(c *treatmentv1.StemChunk) int { return len(c.GetStemIdEnds()) }

// ID is the id of a row, from 0, of a chunk that CheckIDs accepts.
func ID(c *treatmentv1.StemChunk, row int) string {
	from := uint32(0)
	if row > 0 {
		from = c.StemIdEnds[row-1]
	}
	return c.StemIds[from:c.StemIdEnds[row]]
}

// IDs lists the ids of the rows of a chunk that CheckIDs accepts.
func IDs(c *treatmentv1.StemChunk) []string {
	list := make([]string, Rows(c))
	for i := range list {
		list[i] = ID(c, i)
	}
	return list
}

// SetIDs gives a chunk the ids of its rows.
func SetIDs(c *treatmentv1.StemChunk, list ...string) {
	var all []byte
	c.StemIdEnds = c.StemIdEnds[:0]
	for _, id := range list {
		all = append(all, id...)
		c.StemIdEnds = append(c.StemIdEnds, uint32(len(all)))
	}
	c.StemIds = string(all)
}

// CheckIDs names the first row, from 0, whose id does not lie in the text of all ids,
// behind the one before; it is -1 where all do.
func CheckIDs(c *treatmentv1.StemChunk) (row int) {
	text, from := c.GetStemIds(), uint32(0)
	for i, end := range c.GetStemIdEnds() {
		inside := end >= from && end <= uint32(len(text))
		if !inside || end < uint32(len(text)) && !utf8.RuneStart(text[end]) {
			return i
		}
		from = end
	}
	if n := Rows(c); n > 0 && from != uint32(len(text)) {
		return n - 1
	}
	return -1
}

// NumExplanations is how many explanations the rows of a chunk share.
func NumExplanations(c *treatmentv1.PrescriptionChunk) int { return len(c.GetExplanationEnds()) }

// Pieces are the indexes of the pieces of an explanation, from 0, of a chunk that
// CheckPieces accepts.
func Pieces(c *treatmentv1.PrescriptionChunk, explanation int) []int32 {
	from := int32(0)
	if explanation > 0 {
		from = c.ExplanationEnds[explanation-1]
	}
	return c.ExplanationPieces[from:c.ExplanationEnds[explanation]]
}

// CheckPieces finds what keeps the explanations of a chunk from being put together.
func CheckPieces(c *treatmentv1.PrescriptionChunk) error {
	from := int32(0)
	for i, end := range c.GetExplanationEnds() {
		if end < from || int(end) > len(c.GetExplanationPieces()) {
			return fmt.Errorf("explanation %d has the pieces %d to %d of %d", i, from, end, len(c.GetExplanationPieces()))
		}
		from = end
	}
	for _, at := range c.GetExplanationPieces() {
		if at < 0 || int(at) >= len(c.GetPieces()) {
			return fmt.Errorf("an explanation has piece %d, and there are %d", at, len(c.GetPieces()))
		}
	}
	return nil
}
