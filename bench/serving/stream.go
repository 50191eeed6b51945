package serving

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Stream sends an inventory over one stream and hands on each answer. It gives the
// summary.
func Stream(ctx context.Context, c treatmentv1.TreatmentServiceClient, begin *treatmentv1.StreamBegin, chunks iter.Seq[*treatmentv1.StemChunk], each func(*treatmentv1.PrescriptionChunk) error) (*treatmentv1.Summary, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	s, err := c.PrescribeStream(ctx)
	if err != nil {
		return nil, err
	}
	go func() {
		if err := send(s, begin, chunks); err != nil {
			cancel(err)
		}
	}()
	answer := &treatmentv1.PrescribeStreamResponse{}
	for {
		if each != nil { // which may keep it
			answer = &treatmentv1.PrescribeStreamResponse{}
		}
		if err := s.RecvMsg(answer); err != nil {
			return nil, errors.Join(err, context.Cause(ctx))
		}
		if summary := answer.GetSummary(); summary != nil {
			return summary, nil
		}
		if each == nil {
			continue
		}
		if err := each(answer.GetChunk()); err != nil {
			return nil, err
		}
	}
}

type sender interface {
	Send(*treatmentv1.PrescribeStreamRequest) error
	CloseSend() error
}

func send(s sender, begin *treatmentv1.StreamBegin, chunks iter.Seq[*treatmentv1.StemChunk]) error {
	if err := s.Send(&treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Begin{Begin: begin}}); err != nil {
		return ended(err)
	}
	for chunk := range chunks {
		if err := s.Send(&treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: chunk}}); err != nil {
			return ended(err)
		}
	}
	return s.CloseSend()
}

// ended drops the error of a stream that the server has ended: the receiving side has
// the reason.
func ended(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return fmt.Errorf("sending: %w", err)
}
