package main

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/bench/serving"
)

// measure times one piece of work.
type measure = func() (time.Duration, error)

// limits is what the parts of a stream take by themselves, a copy for each core, so that
// both can do the same part at once. What two cores leave room for is what they do
// together: where they are two threads of one core, as on most rented machines, each is
// slower while the other works, whatever it does.
type limits [cores]limit

// limit is the decision, and the messages of both directions, to be encoded and decoded.
type limit struct {
	sample                *sample
	rows                  int64
	requests              []*treatmentv1.PrescribeStreamRequest
	answers               []*treatmentv1.PrescribeStreamResponse
	rowBytes, answerBytes [][]byte
	chunkBytes            [][]byte // of the chunks in requests
	buffer                []byte
}

func (b *bench) limits(ctx context.Context, c treatmentv1.TreatmentServiceClient, v *inventory) (*limits, error) {
	var l limits
	for i := range l {
		var err error
		if l[i].sample, err = b.sample(65_536); err != nil {
			return nil, err
		}
		if err = l[i].encode(ctx, c, v); err != nil {
			return nil, err
		}
	}
	return &l, nil
}

func (l *limit) encode(ctx context.Context, c treatmentv1.TreatmentServiceClient, v *inventory) error {
	l.rows = v.rows
	for _, chunk := range v.chunks {
		l.requests = append(l.requests, &treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: proto.CloneOf(chunk)}})
	}
	_, err := serving.Stream(ctx, c, v.begin, v.all(), func(a *treatmentv1.PrescriptionChunk) error {
		l.answers = append(l.answers, &treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: a}})
		return nil
	})
	if err != nil {
		return err
	}
	for i := range l.requests {
		for _, of := range []struct {
			message proto.Message
			into    *[][]byte
		}{{l.requests[i], &l.rowBytes}, {l.answers[i], &l.answerBytes}, {l.requests[i].GetChunk(), &l.chunkBytes}} {
			text, err := proto.Marshal(of.message)
			if err != nil {
				return err
			}
			*of.into = append(*of.into, text)
		}
	}
	return nil
}

// limitParts is how many parts there are in a list.
const limitParts = 8

// list is the parts: the decision, rows and answers encoded and decoded by protobuf, and
// rows and answers as the product has them, whose client decodes as protobuf does here.
func (l *limit) list() []measure {
	return []measure{
		l.sample.planned, l.encodeRows, l.decodeRows, l.encodeAnswers, l.decodeAnswers,
		l.encodeRowsQuickly, l.decodeRowsQuickly, l.encodeAnswersQuickly,
	}
}

// atOnce is the parts, each done by both cores at the same time: what they take on average.
func (l *limits) atOnce() []measure {
	list := make([]measure, limitParts)
	for i := range list {
		list[i] = func() (time.Duration, error) {
			var took [cores]time.Duration
			_, err := onBothCores(cores, func(_, core int) (err error) {
				took[core], err = l[core].list()[i]()
				return err
			})
			var sum time.Duration
			for _, d := range took {
				sum += d
			}
			return sum / cores, err
		}
	}
	return list
}

// costs is what the parts take for a stem, in nanoseconds.
type costs [limitParts]float64

func (l *limit) costs(of []time.Duration) (c costs) {
	for i := range c {
		c[i] = each(of[i], l.rows)
	}
	c[0] = each(of[0], l.sample.rows)
	return c
}

// byProtobuf is what two cores leave for a stem if they do nothing but decide, encode and
// decode.
func (c *costs) byProtobuf() float64 { return (c[0] + c[1] + c[2] + c[3] + c[4]) / cores }

// byOwn is the same with the product's codec.
func (c *costs) byOwn() float64 { return (c[0] + c[5] + c[6] + c[7] + c[4]) / cores }

func (c *costs) String() string {
	return fmt.Sprintf("(decision %.4g, rows %.4g + %.4g, answers %.4g + %.4g)", c[0], c[1], c[2], c[3], c[4])
}

// ofOwn is what byOwn is made of.
func (c *costs) ofOwn() string {
	return fmt.Sprintf("(rows %.4g + %.4g, answers %.4g)", c[5], c[6], c[7])
}
func (l *limit) encodeRows() (time.Duration, error)    { return encode(l, l.requests) }
func (l *limit) encodeAnswers() (time.Duration, error) { return encode(l, l.answers) }

// What the product's codec does with chunks.

func (l *limit) encodeRowsQuickly() (time.Duration, error) {
	return took(func() error {
		return encodeQuickly(l, l.requests, (*treatmentv1.PrescribeStreamRequest).GetChunk, columnar.Append)
	})
}

func (l *limit) encodeAnswersQuickly() (time.Duration, error) {
	return took(func() error {
		return encodeQuickly(l, l.answers, (*treatmentv1.PrescribeStreamResponse).GetChunk, columnar.AppendAnswers)
	})
}

func encodeQuickly[M, C any](l *limit, messages []M, chunkOf func(M) C, by func([]byte, C) ([]byte, error)) error {
	for _, m := range messages {
		var err error
		if l.buffer, err = by(l.buffer[:0], chunkOf(m)); err != nil {
			return err
		}
	}
	return nil
}

func (l *limit) decodeRowsQuickly() (time.Duration, error) {
	return took(func() error {
		again := &treatmentv1.StemChunk{}
		for _, text := range l.chunkBytes {
			if err := columnar.Decode(text, again); err != nil {
				return err
			}
		}
		return nil
	})
}

// encode writes into one buffer, as gRPC writes into pooled ones.
func encode[M proto.Message](l *limit, messages []M) (time.Duration, error) {
	return took(func() error {
		for _, m := range messages {
			var err error
			if l.buffer, err = (proto.MarshalOptions{}).MarshalAppend(l.buffer[:0], m); err != nil {
				return err
			}
		}
		return nil
	})
}

func (l *limit) decodeRows() (time.Duration, error) {
	return decode(l.rowBytes, func() proto.Message { return &treatmentv1.PrescribeStreamRequest{} })
}

func (l *limit) decodeAnswers() (time.Duration, error) {
	return decode(l.answerBytes, func() proto.Message { return &treatmentv1.PrescribeStreamResponse{} })
}

func decode(texts [][]byte, empty func() proto.Message) (time.Duration, error) {
	return took(func() error {
		for _, t := range texts {
			if err := proto.Unmarshal(t, empty()); err != nil {
				return err
			}
		}
		return nil
	})
}
