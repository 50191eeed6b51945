package client

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"

	"google.golang.org/grpc"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/rulewire"
)

// HasResults reports whether a batch has answers to all of its rows: from its first
// success on, also while it is retried and after the retry was cancelled or failed.
func HasResults(b *inventoryv1.Batch) bool { return b.GetResultDigest() != "" }

// Results gives the answers for every row of the inventory file that a batch was made
// of, as Prescribe would, and what the batch was created with. Of the options it takes
// Site and Progress. A file with other rows than were uploaded is an error.
func (c *Client) Results(ctx context.Context, path, id string, o Options, begin func() (Sink, error)) (*Result, *Options, error) {
	got, err := c.Inventory.GetBatch(ctx, &inventoryv1.GetBatchRequest{BatchId: id})
	if err != nil {
		return nil, nil, err
	}
	b, made := got.GetBatch(), got.GetBegin()
	if !HasResults(b) {
		return nil, nil, fmt.Errorf("batch %s has not succeeded: rootward batch status tells how it stands", id)
	}
	o.Settings, o.Trial = made.GetSettings(), made.GetTrialDigests()
	if o.Date, err = rulewire.DecodeDate(made.GetDate()); err != nil {
		return nil, nil, fmt.Errorf("the server's date: %w", err)
	}
	sink, err := begin()
	if err != nil {
		return nil, nil, err
	}
	sites := made.GetSites()
	reading := startReading(ctx, path, &o)
	defer reading.stop()
	p := newPass(c, reading, &o, sites, sink, 1)
	p.client = &keptAnswers{client: c, batch: b}
	if err := p.run(ctx); err != nil {
		return nil, nil, err
	}
	if shared := withShares(sites, p.summary.GetSiteUses()); shared != nil {
		sites = shared
	}
	return &Result{Sites: sites, Totals: p.totals, Summary: p.summary}, &o, nil
}

// keptAnswers stands in for a server that decides: it answers each chunk with what was
// decided of it before.
type keptAnswers struct {
	treatmentv1.TreatmentServiceClient
	client *Client
	batch  *inventoryv1.Batch
}

// PrescribeStream implements TreatmentServiceClient.
func (k *keptAnswers) PrescribeStream(ctx context.Context, _ ...grpc.CallOption) (stream, error) {
	return &keptStream{ctx: ctx, of: k, asked: make(chan [sha256.Size]byte, inFlight+1)}, nil
}

// keptStream gives the kept answers in the order of the chunks.
type keptStream struct {
	grpc.ClientStream
	ctx    context.Context
	of     *keptAnswers
	asked  chan [sha256.Size]byte // the chunks of the file
	from   grpc.ServerStreamingClient[inventoryv1.ListResultsResponse]
	cursor string // of the last chunk received
	closed bool
}

// Send has nothing to say: what begins a stream is not asked.
func (s *keptStream) Send(*treatmentv1.PrescribeStreamRequest) error { return nil }

// SendMsg notes which chunk is asked.
func (s *keptStream) SendMsg(m any) error {
	sum := sha256.New()
	for _, piece := range m.(columnar.EncodedChunk).Message {
		sum.Write(piece)
	}
	select {
	case s.asked <- [sha256.Size]byte(sum.Sum(nil)):
		return nil
	case <-s.ctx.Done():
		return context.Cause(s.ctx)
	}
}

// CloseSend says that these were all chunks of the file.
func (s *keptStream) CloseSend() error {
	close(s.asked)
	return nil
}

// Recv gives the next answer, and after the last the summary.
func (s *keptStream) Recv() (*treatmentv1.PrescribeStreamResponse, error) {
	if s.closed {
		return nil, io.EOF
	}
	var next *inventoryv1.ListResultsResponse
	err := s.of.client.lasting(s.ctx, s.of.batch.GetBatchId(), func() (err error) {
		next, err = s.next()
		return err
	}, noFurther)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	asked, more := s.take()
	switch {
	case err == nil && more:
		return s.answer(next, asked)
	case err != nil && !more:
		s.closed = true
		if err := s.unchanged(); err != nil {
			return nil, err
		}
		return &treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Summary{Summary: s.of.batch.GetSummary()}}, nil
	}
	return nil, s.anotherFile()
}

// RecvMsg is Recv into a response.
func (s *keptStream) RecvMsg(m any) error {
	r, err := s.Recv()
	if err == nil {
		m.(*treatmentv1.PrescribeStreamResponse).Message = r.GetMessage()
	}
	return err
}

// unchanged makes sure that no retry replaced the results while they were read: the
// summary is of those that were there at first.
func (s *keptStream) unchanged() error {
	id := s.of.batch.GetBatchId()
	got, err := s.of.client.Inventory.GetBatch(s.ctx, &inventoryv1.GetBatchRequest{BatchId: id}, grpc.WaitForReady(true))
	if err == nil && got.GetBatch().GetResultDigest() != s.of.batch.GetResultDigest() {
		err = fmt.Errorf("batch %s was decided once more while its results were read: ask again", id)
	}
	return err
}

func (s *keptStream) take() (sum [sha256.Size]byte, ok bool) {
	select {
	case sum, ok = <-s.asked:
	case <-s.ctx.Done():
	}
	return sum, ok
}

// next receives from the cursor on, from a server that may have been away.
func (s *keptStream) next() (*inventoryv1.ListResultsResponse, error) {
	if s.from == nil {
		var err error
		s.from, err = s.of.client.Inventory.ListResults(s.ctx, &inventoryv1.ListResultsRequest{BatchId: s.of.batch.GetBatchId(), Cursor: s.cursor})
		if err != nil {
			return nil, err
		}
	}
	r, err := s.from.Recv()
	if err != nil {
		s.from = nil
		return nil, err
	}
	s.cursor = r.GetCursor()
	return r, nil
}

func (s *keptStream) answer(r *inventoryv1.ListResultsResponse, asked [sha256.Size]byte) (*treatmentv1.PrescribeStreamResponse, error) {
	data, err := columnar.Append(nil, r.GetStems())
	if err != nil {
		return nil, err
	}
	if sha256.Sum256(data) != asked {
		return nil, s.anotherFile()
	}
	return &treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: r.GetPrescriptions()}}, nil
}

func (s *keptStream) anotherFile() error {
	return fmt.Errorf("the file does not hold the rows that batch %s was made of: name that file, unchanged, with --site if it was submitted so", s.of.batch.GetBatchId())
}
