package api

import (
	"slices"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// piece is the encoding of one field of an explanation, or of one entry of a field that
// is a list. Explanations differ in few of theirs, so each is kept and sent once.
type piece []byte

// sent is when and where a piece was sent last. It lies apart from the text, for each
// explanation of each chunk asks for that of all of its pieces.
type sent struct {
	chunk int64 // of the desk
	at    int32 // its place there
}

// What a desk keeps of explanations, so that memory does not depend on the number of
// rows. Tests make it little.
var (
	maxExplanations = 64_000 // from chunk to chunk, of some 300 bytes each
	maxPieces       = 40_000
	maxMessages     = 200 // put together for those who ask for single rows
)

// cut gives an explanation in pieces. Two pieces that are equal are one, so that the answer
// to a chunk is the same whatever was answered before.
func (d *desk) cut(m *treatmentv1.Explanation) *explained {
	e := &explained{said: &said{}}
	text := encoded(m)
	for len(text) > 0 {
		_, _, n := protowire.ConsumeField(text)
		e.pieces = append(e.pieces, d.piece(text[:n]))
		text = text[n:]
	}
	e.pieces = slices.Clone(e.pieces) // as many as there are
	return e
}

// encoded is an explanation in the bytes that are the same for equal ones.
func encoded(m *treatmentv1.Explanation) []byte {
	text, err := (proto.MarshalOptions{Deterministic: true}).Marshal(m)
	if err != nil {
		panic("api: an explanation cannot be sent: " + err.Error()) // a text is no UTF-8
	}
	return text
}

// piece finds the place of a piece, and makes one for a new one.
func (d *desk) piece(text []byte) uint32 {
	at, known := d.placeOf[string(text)]
	if !known {
		at = uint32(len(d.pieces))
		d.pieces, d.sent = append(d.pieces, slices.Clone(text)), append(d.sent, sent{})
		d.placeOf[string(text)] = at
	}
	return at
}

// written is an explanation as a message, which nobody may change.
func (b *session) written(e *explained) *treatmentv1.Explanation {
	switch {
	case b.encoded && e.encoded != nil:
		return e.encoded
	case !b.encoded && e.message != nil:
		return e.message
	}
	var text []byte
	for _, at := range e.pieces {
		text = append(text, b.pieces[at]...)
	}
	m := &treatmentv1.Explanation{}
	if b.encoded {
		// Fields that a message does not know are sent as they were read.
		m.ProtoReflect().SetUnknown(text)
	} else if err := proto.Unmarshal(text, m); err != nil {
		panic("api: an explanation cannot be read again: " + err.Error())
	}
	if b.messages >= maxMessages {
		return m
	}
	b.messages++
	if b.encoded {
		e.encoded = m
	} else {
		e.message = m
	}
	return m
}

// forget drops the explanations that were not asked for of late, where there are too
// many. It is for the time between two chunks: within one it would have an explanation
// listed twice, or not, as the chunks before it were.
func (d *desk) forget() {
	if len(d.pieces) >= maxPieces {
		d.words, d.older, d.messages = map[wordsKey]*explained{}, nil, 0
		d.pieces, d.sent, d.placeOf = nil, nil, map[string]uint32{}
		clear(d.recent)
	}
	if len(d.words) >= maxExplanations/2 {
		for _, e := range d.words {
			e.message, e.encoded = nil, nil
		}
		d.words, d.older, d.messages = map[wordsKey]*explained{}, d.words, 0
		clear(d.recent) // what is asked for again is to stay
	}
}
