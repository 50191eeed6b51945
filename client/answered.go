package client

import (
	"fmt"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client/inventory"
)

// Answered is consecutive rows of an inventory with what became of them. It is good
// until the sink that is given it returns.
type Answered struct {
	Block *inventory.Block
	// Answer holds the answers to the good rows, one by one; nil where no row was sent.
	Answer *treatmentv1.PrescriptionChunk
	// Explanations are those of Answer, in the order of their numbers. Many answers share
	// them, and they must not be changed.
	Explanations []*treatmentv1.Explanation

	answers  *answers
	response *treatmentv1.PrescribeStreamResponse // that Answer is of; nil where no row was sent
}

// AnsweredSink takes many rows at a time, for those who need not look at the whole
// of each: its Row is not called.
type AnsweredSink interface {
	Sink
	Rows(*Answered) error
}

// Len is the number of rows.
func (a *Answered) Len() int { return a.Block.Len() }

// Outcome is what became of the row with this index, from 0.
func (a *Answered) Outcome(i int) treatmentv1.Outcome {
	if at := a.Block.Index(i); at >= 0 {
		return treatmentv1.Outcome(a.Answer.Outcome[at])
	}
	return treatmentv1.Outcome_OUTCOME_REJECTED
}

// Row is the row with this index with all that is known of it.
func (a *Answered) Row(i int) *Row {
	record := a.Block.Record(i)
	if at := a.Block.Index(i); at >= 0 {
		return a.answers.row(record, at, a.Explanations)
	}
	return rejected(record, record.Faults)
}

// Stems is how many stems a prescribed row stands for, and zero for any other.
func (a *Answered) Stems(i int) int64 {
	at := a.Block.Index(i)
	switch {
	case a.Outcome(i) != treatmentv1.Outcome_OUTCOME_PRESCRIBED:
		return 0
	case a.Answer.Dose[at] > 0 && a.Answer.Stems[a.Answer.Dose[at]-1] > 0:
		return a.Answer.Stems[a.Answer.Dose[at]-1]
	}
	return a.Block.Stem(at).Count
}

// Second is the dose of a later pass of the row; nil without one.
func (a *Answered) Second(i int) *treatmentv1.Dose {
	if at := a.Block.Index(i); at >= 0 && a.Outcome(i) == treatmentv1.Outcome_OUTCOME_PRESCRIBED {
		return a.answers.secondOf(at)
	}
	return nil
}

// newAnswered checks that an answer is that to a block.
func newAnswered(b *inventory.Block, response *treatmentv1.PrescribeStreamResponse, known *columnar.Explanations) (*Answered, error) {
	chunk := response.GetChunk()
	a := &Answered{Block: b, Answer: chunk, response: response}
	if b.Good() == 0 {
		return a, nil
	}
	var err error
	if a.answers, err = newAnswers(chunk, b.FirstRow, b.Good()); err != nil {
		return nil, err
	}
	if a.Explanations, err = known.Of(chunk); err != nil {
		return nil, fmt.Errorf("the server's answer to the rows from line %d on: %w", b.Line(0), err)
	}
	for i := range b.Len() {
		if at := b.Index(i); at >= 0 {
			if err := a.answers.check(at); err != nil {
				return nil, fmt.Errorf("line %d: %w", b.Line(i), err)
			}
		}
	}
	return a, nil
}
