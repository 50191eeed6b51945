package api

import (
	"slices"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// piece is the encoding of one field of an explanation, or of one entry of a field that
// is a list, or of fields that mostly are the same together. Explanations differ in few of
// theirs, so each is kept and sent once.
type piece []byte

// whole reports whether a field is in one piece with the one before it: what is to be done
// follows from the choice, and the rule sets from the place.
func whole(before, field protowire.Number) bool {
	const steps, followUp, ruleSets = 6, 8, 11
	return steps <= before && field <= followUp || before == ruleSets && field == ruleSets
}

// sent is when and where a piece was sent last. It lies apart from the text, for each
// explanation of each chunk asks for that of all of its pieces.
type sent struct {
	chunk int64 // of the desk
	at    int32 // its place there
}

// wording is the explanations of a chunk, each in its pieces.
type wording struct{ explained [][]uint32 }

// explain adds an explanation, and gives its number in the chunk.
func (l *wording) explain(pieces []uint32) int32 {
	l.explained = append(l.explained, pieces)
	return int32(len(l.explained) - 1)
}

// write lists the explanations and their pieces in the answer to the last chunk of their desk.
func (l *wording) write(a *treatmentv1.PrescriptionChunk, d *desk) {
	if n := len(d.pieces) - len(d.sent); n > 0 {
		d.sent = append(d.sent, make([]sent, n)...)
	}
	last, pieces, list := d.sent, a.Pieces[:0], a.ExplanationPieces[:0]
	ends := a.ExplanationEnds[:0]
	for _, e := range l.explained {
		for _, at := range e {
			p := &last[at]
			if p.chunk != d.chunks {
				p.chunk, p.at = d.chunks, int32(len(pieces))
				pieces = append(pieces, d.pieces[at])
			}
			list = append(list, p.at)
		}
		ends = append(ends, int32(len(list)))
	}
	a.Pieces, a.ExplanationPieces, a.ExplanationEnds = pieces, list, ends
}

// reset empties the list and keeps its memory, but nothing that it refers to.
func (l *wording) reset() { l.explained = emptied(l.explained) }

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
	text, pieces := encoded(m), d.cutting[:0]
	for end := 0; len(text) > 0; text, end = text[end:], 0 {
		for before := protowire.Number(0); end < len(text); {
			field, _, n := protowire.ConsumeField(text[end:])
			if end > 0 && !whole(before, field) {
				break
			}
			before, end = field, end+n
		}
		pieces = append(pieces, d.piece(text[:end]))
	}
	d.cutting = pieces
	return &explained{pieces: d.together(pieces)}
}

// together copies the places of an explanation's pieces to those of others. What lies together
// stays as long as one of them does, so it is not much.
func (d *desk) together(pieces []uint32) []uint32 {
	const many = 64
	if len(pieces) > cap(d.lists)-len(d.lists) {
		d.lists = make([]uint32, 0, max(many, len(pieces)))
	}
	from := len(d.lists)
	d.lists = append(d.lists, pieces...)
	return d.lists[from:len(d.lists):len(d.lists)]
}

// encoded is a message in the bytes that are the same for equal ones.
func encoded(m proto.Message) []byte {
	text, err := (proto.MarshalOptions{Deterministic: true}).Marshal(m)
	if err != nil {
		panic("api: an answer cannot be sent: " + err.Error()) // a text is no UTF-8
	}
	return text
}

// piece finds the place of a piece, and makes one for a new one.
func (d *desk) piece(text []byte) uint32 {
	at, known := d.placeOf[string(text)]
	if !known {
		at = uint32(len(d.pieces))
		d.pieces = append(d.pieces, slices.Clone(text))
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
		d.pieces, d.placeOf = nil, map[string]uint32{}
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
