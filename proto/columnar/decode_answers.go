package columnar

import (
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// DecodeAnswers reads the answer to a chunk, as proto.Unmarshal does, into one that may have
// been used before, whose memory it uses again. It is for clients: of an answer as servers
// encode it, it reads the numbers several times faster, and leaves any other to protobuf.
func DecodeAnswers(data []byte, a *treatmentv1.PrescriptionChunk) error {
	emptyAnswers(a)
	if decodeAnswers(data, a) {
		return nil
	}
	return proto.Unmarshal(data, a)
}

// The numbers of the fields of an answer that are lists of texts or of messages.
const (
	piecesField     = 3
	secondField     = 14
	rejectionsField = 15
	computedField   = 17
	lastOfAnswers   = 20
	listsOfAnswers  = 1<<piecesField | 1<<secondField | 1<<rejectionsField | 1<<computedField
)

func decodeAnswers(data []byte, a *treatmentv1.PrescriptionChunk) bool {
	return eachField(data, listsOfAnswers, func(f *field) bool { return takeOfAnswers(a, f) }) && own(a.Pieces)
}

// emptyAnswers makes an answer an empty one, and keeps the memory of its columns.
func emptyAnswers(a *treatmentv1.PrescriptionChunk) {
	a.ProtoReflect().SetUnknown(nil)
	a.FirstRow, a.SecondDoses, a.Rejections, a.ComputedWater = 0, nil, nil, nil
	a.Outcome, a.Pieces, a.RateUgPerAc = a.Outcome[:0], a.Pieces[:0], a.RateUgPerAc[:0]
	for number := range protowire.Number(lastOfAnswers + 1) {
		if column := placeColumn(a, number); column != nil {
			*column = (*column)[:0]
		}
		if column := amountColumn(a, number); column != nil {
			*column = (*column)[:0]
		}
	}
}

// takeOfAnswers reads a field of an answer. Pieces still lie in what is decoded.
func takeOfAnswers(a *treatmentv1.PrescriptionChunk, f *field) bool {
	if f.bytes == nil {
		a.FirstRow = int64(f.value)
		return f.number == 1
	}
	b := f.bytes
	switch f.number {
	case 2:
		a.Outcome = append(a.Outcome, b...)
		return true
	case piecesField:
		a.Pieces = append(a.Pieces, b)
		return true
	case 13:
		return appendNumbers(&a.RateUgPerAc, b, zigZag)
	case secondField:
		return takeMessage(&a.SecondDoses, b)
	case rejectionsField:
		return takeMessage(&a.Rejections, b)
	case computedField:
		return takeMessage(&a.ComputedWater, b)
	}
	if column := placeColumn(a, f.number); column != nil {
		return appendNumbers(column, b, plain)
	}
	column := amountColumn(a, f.number)
	return column != nil && appendNumbers(column, b, plain)
}

// placeColumn is the column with a number, of those that hold places in others.
func placeColumn(a *treatmentv1.PrescriptionChunk, number protowire.Number) *[]int32 {
	switch number {
	case 4:
		return &a.Explanation
	case 18:
		return &a.ExplanationPieces
	case 19:
		return &a.ExplanationEnds
	case 20:
		return &a.Dose
	}
	return nil
}

// amountColumn is the column of doses with a number, of those that are never below zero.
func amountColumn(a *treatmentv1.PrescriptionChunk, number protowire.Number) *[]int64 {
	switch number {
	case 5:
		return &a.Stems
	case 6:
		return &a.Cuts
	case 7:
		return &a.MixUl
	case 8:
		return &a.ProductUl
	case 9:
		return &a.CarrierUl
	case 10:
		return &a.AdjuvantUl
	case 11:
		return &a.DyeUl
	case 12:
		return &a.AeUg
	case 16:
		return &a.CutUl
	}
	return nil
}

func takeMessage[M any, P interface {
	*M
	proto.Message
}](list *[]P, b []byte) bool {
	m := P(new(M))
	*list = append(*list, m)
	return proto.Unmarshal(b, m) == nil
}

// own copies texts, all into one.
func own(texts [][]byte) bool {
	n := 0
	for _, t := range texts {
		n += len(t)
	}
	all := make([]byte, 0, n)
	for i, t := range texts {
		from := len(all)
		all = append(all, t...)
		texts[i] = all[from:len(all):len(all)]
	}
	return true
}
