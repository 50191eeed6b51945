package columnar

import (
	"encoding/binary"
	"fmt"

	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Explanations puts the explanations of many chunks together. Equal ones, which chunk
// after chunk repeats, are put together once and shared, and so are the pieces that
// explanations have in common: nobody may change them. The zero value is ready; it is
// for one goroutine.
type Explanations struct {
	places map[string]uint32                   // of pieces, by their encoding
	read   []*treatmentv1.Explanation          // of the pieces, each what one field says
	known  map[string]*treatmentv1.Explanation // by the places of their pieces
	at     []uint32                            // places of the pieces of the chunk at hand
	key    []byte
}

// What is remembered of explanations and of their pieces.
const (
	maxKnown  = 16_384
	maxPieces = 65_536
)

// Of gives the explanations of a chunk in the order of their numbers.
func (x *Explanations) Of(c *treatmentv1.PrescriptionChunk) ([]*treatmentv1.Explanation, error) {
	if err := CheckPieces(c); err != nil {
		return nil, err
	}
	if len(x.known) >= maxKnown || len(x.read) >= maxPieces || x.known == nil {
		*x = Explanations{places: map[string]uint32{}, known: map[string]*treatmentv1.Explanation{}, at: x.at, key: x.key}
	}
	x.at = x.at[:0]
	for i, text := range c.GetPieces() {
		place, err := x.place(text)
		if err != nil {
			return nil, fmt.Errorf("piece %d of the explanations: %w", i, err)
		}
		x.at = append(x.at, place)
	}
	list := make([]*treatmentv1.Explanation, len(c.GetExplanationEnds()))
	for i := range list {
		list[i] = x.join(Pieces(c, i))
	}
	return list, nil
}

// place finds where a piece is read, and reads one that is new.
func (x *Explanations) place(text []byte) (uint32, error) {
	if at, ok := x.places[string(text)]; ok {
		return at, nil
	}
	e := &treatmentv1.Explanation{}
	if err := proto.Unmarshal(text, e); err != nil {
		return 0, err
	}
	at := uint32(len(x.read))
	x.places[string(text)], x.read = at, append(x.read, e)
	return at, nil
}

// join puts the pieces of an explanation together.
func (x *Explanations) join(pieces []int32) *treatmentv1.Explanation {
	x.key = x.key[:0]
	for _, i := range pieces {
		x.key = binary.LittleEndian.AppendUint32(x.key, x.at[i])
	}
	if e := x.known[string(x.key)]; e != nil {
		return e
	}
	e := &treatmentv1.Explanation{}
	for _, i := range pieces {
		add(e, x.read[x.at[i]])
	}
	x.known[string(x.key)] = e
	return e
}

// add adds what a piece says, field by field. A single
// field comes in one piece, whole; its messages are shared.
func add(e, piece *treatmentv1.Explanation) {
	if piece.Choice != nil {
		e.Choice = piece.Choice
	}
	if piece.Why != "" {
		e.Why = piece.Why
	}
	e.Alternatives = append(e.Alternatives, piece.Alternatives...)
	e.Findings = append(e.Findings, piece.Findings...)
	if piece.Dates != nil {
		e.Dates = piece.Dates
	}
	e.Steps = append(e.Steps, piece.Steps...)
	e.Cautions = append(e.Cautions, piece.Cautions...)
	e.FollowUp = append(e.FollowUp, piece.FollowUp...)
	e.Remedies = append(e.Remedies, piece.Remedies...)
	if piece.SecondPass != nil {
		e.SecondPass = piece.SecondPass
	}
	e.RuleSets = append(e.RuleSets, piece.RuleSets...)
	e.Conflicts = append(e.Conflicts, piece.Conflicts...)
}

// Add gives a chunk one more explanation, and its number. It is for answers that are
// made by hand: nothing is shared.
func Add(c *treatmentv1.PrescriptionChunk, e *treatmentv1.Explanation) (int32, error) {
	text, err := (proto.MarshalOptions{Deterministic: true}).Marshal(e)
	if err != nil {
		return 0, err
	}
	c.ExplanationPieces = append(c.ExplanationPieces, int32(len(c.Pieces)))
	c.Pieces = append(c.Pieces, text)
	c.ExplanationEnds = append(c.ExplanationEnds, int32(len(c.ExplanationPieces)))
	return int32(len(c.ExplanationEnds) - 1), nil
}
