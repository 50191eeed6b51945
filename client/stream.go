package client

import (
	"context"
	"errors"
	"fmt"
	"io"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client/inventory"
)

// inFlight is how many batches may wait for their answers: enough to keep reader,
// server and sink at work together, few enough that memory stays small.
const inFlight = 3

// maxRejected bounds the rejected rows of one batch, so that a file of nothing
// else does not pile up.
const maxRejected = 16_384

// pass is one pass over an inventory: one goroutine reads and sends while the
// caller's receives. Records wait in pending, in the order of the file, so that
// each answer finds its rows.
type pass struct {
	number  int
	path    string
	options *Options
	begin   *treatmentv1.StreamBegin
	client  treatmentv1.TreatmentServiceClient
	sink    Sink

	pending chan *batch
	next    batch // being filled
	chunker *inventory.Chunker

	read    int64               // rows of the file that are wanted
	totals  *treatmentv1.Totals // of the rows read
	decided *treatmentv1.Totals // of the rows sent
	summary *treatmentv1.Summary
}

// batch is consecutive rows of the file: those of one chunk, and rejected ones
// between them.
type batch struct {
	records  []*inventory.Record
	first    int64 // row number of the chunk's first row
	rows     int   // of the chunk; zero if nothing was sent
	rejected int
}

type stream = grpc.BidiStreamingClient[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]

func newPass(c *Client, path string, o *Options, sites []*treatmentv1.Site, sink Sink, number int) *pass {
	return &pass{
		number: number, path: path, options: o, client: c.Treatment, sink: sink,
		begin:   &treatmentv1.StreamBegin{Date: rulewire.EncodeDate(o.Date), Sites: sites, Settings: o.Settings},
		pending: make(chan *batch, inFlight), chunker: inventory.NewChunker(),
		totals: &treatmentv1.Totals{}, decided: &treatmentv1.Totals{}, summary: &treatmentv1.Summary{},
	}
}

// run makes the pass. When it returns nothing of it is left running, whatever the
// error; the error is the first one of either side.
func (p *pass) run(parent context.Context) error {
	ctx, cancel := context.WithCancelCause(parent)
	defer cancel(nil)
	var s stream
	if len(p.begin.GetSites()) > 0 {
		var err error
		if s, err = p.open(ctx); err != nil {
			return first(parent, ctx, err)
		}
	}
	sender := make(chan struct{})
	go func() {
		defer close(sender)
		defer close(p.pending)
		if err := p.send(ctx, s); err != nil {
			cancel(err)
		}
	}()
	err := p.receive(s)
	if err != nil {
		cancel(err)
	}
	<-sender
	if err = first(parent, ctx, err); err != nil {
		return err
	}
	return p.check()
}

// first picks the error that ended a pass: a cancelled caller, else whichever side
// failed first.
func first(parent, ctx context.Context, err error) error {
	if parent.Err() != nil {
		return context.Cause(parent)
	}
	if cause := context.Cause(ctx); cause != nil {
		return cause
	}
	return err
}

func (p *pass) open(ctx context.Context) (stream, error) {
	s, err := p.client.PrescribeStream(ctx)
	if err != nil {
		return nil, err
	}
	err = s.Send(&treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Begin{Begin: p.begin}})
	return s, refusedSend(err)
}

// refusedSend drops the error of a send to a stream that the server has ended:
// what ended it comes out on the receiving side.
func refusedSend(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// send reads the file and sends it. It ends early, without an error, when the
// server has ended the stream.
func (p *pass) send(ctx context.Context, s stream) error {
	reader, err := inventory.Open(p.path)
	if err != nil {
		return err
	}
	defer reader.Close()
	for {
		record, err := reader.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if !p.wants(record) {
			continue
		}
		p.read++
		if err := p.add(ctx, s, record); err != nil {
			return refusedSend(err)
		}
	}
	if err := p.flush(ctx, s); err != nil {
		return refusedSend(err)
	}
	if s == nil {
		return nil
	}
	return s.CloseSend()
}

func (p *pass) wants(r *inventory.Record) bool {
	site := p.options.Site
	return site == "" || r.SiteID == site || r.Rejected() && r.SiteID == ""
}

func (p *pass) add(ctx context.Context, s stream, r *inventory.Record) error {
	full := p.next.rejected >= maxRejected
	if !full && !r.Rejected() {
		full = !p.chunker.Add(r)
	}
	if full {
		if err := p.flush(ctx, s); err != nil {
			return err
		}
		return p.add(ctx, s, r)
	}
	if r.Rejected() {
		p.next.rejected++
	}
	p.next.records = append(p.next.records, r)
	return nil
}

// flush hands the batch to the receiving side before it sends its chunk, so that
// no answer comes for rows that nobody waits for. It is a send that waits while
// too many are unanswered, and that is the back-pressure.
func (p *pass) flush(ctx context.Context, s stream) error {
	if len(p.next.records) == 0 {
		return nil
	}
	b, chunk := p.next, p.chunker.Take()
	p.next = batch{}
	if chunk != nil {
		b.first, b.rows = chunk.Stems.GetFirstRow(), len(chunk.Numbers)
	}
	select {
	case p.pending <- &b:
	case <-ctx.Done():
		return context.Cause(ctx)
	}
	if chunk == nil {
		return nil
	}
	return s.Send(&treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: chunk.Stems}})
}

func (p *pass) receive(s stream) error {
	for b := range p.pending {
		var a *answers
		if b.rows > 0 {
			response, err := s.Recv()
			if err != nil {
				return ended(err)
			}
			if a, err = newAnswers(response.GetChunk(), b.first, b.rows); err != nil {
				return err
			}
		}
		if err := p.deliver(b, a); err != nil {
			return err
		}
	}
	if s == nil {
		return nil
	}
	return p.close(s)
}

// deliver hands a batch's rows to the sink, in the order of the file.
func (p *pass) deliver(b *batch, a *answers) error {
	i := 0
	for _, record := range b.records {
		row := rejected(record, record.Faults)
		if !record.Rejected() {
			var err error
			if row, err = a.row(record, i); err != nil {
				return err
			}
			count(p.decided, row.Outcome)
			i++
		}
		count(p.totals, row.Outcome)
		if err := p.sink.Row(row); err != nil {
			return err
		}
	}
	if p.options.Progress != nil {
		p.options.Progress(p.number, p.totals.GetRows())
	}
	return nil
}

// close takes the summary and the end of the stream.
func (p *pass) close(s stream) error {
	response, err := s.Recv()
	if err != nil {
		return ended(err)
	}
	if p.summary = response.GetSummary(); p.summary == nil {
		return errors.New("the server answered more chunks than it was sent")
	}
	if _, err = s.Recv(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("the server went on after its summary: %w", ended(err))
	}
	return nil
}

// ended makes an error of a stream that ends without one but too early.
func ended(err error) error {
	if errors.Is(err, io.EOF) {
		return errors.New("the server ended the answer before its summary; ask again")
	}
	return err
}

// check holds three counts against each other: rows read, answers handed on, and
// what the server says it decided.
func (p *pass) check() error {
	if p.totals.GetRows() != p.read {
		return fmt.Errorf("%d rows were read and %d answered; the results cannot be trusted", p.read, p.totals.GetRows())
	}
	if theirs := p.summary.GetTotals(); p.decided.GetRows() > 0 && !proto.Equal(theirs, p.decided) {
		return fmt.Errorf("the server counts %s, its answers were %s; the results cannot be trusted", words(theirs), words(p.decided))
	}
	return nil
}

func words(t *treatmentv1.Totals) string {
	return fmt.Sprintf("%d rows (%d prescribed, %d deferred, %d undetermined, %d rejected)",
		t.GetRows(), t.GetPrescribed(), t.GetDeferred(), t.GetUndetermined(), t.GetRejected())
}

func count(t *treatmentv1.Totals, o treatmentv1.Outcome) {
	t.Rows++
	switch o {
	case treatmentv1.Outcome_OUTCOME_PRESCRIBED:
		t.Prescribed++
	case treatmentv1.Outcome_OUTCOME_DEFERRED:
		t.Deferred++
	case treatmentv1.Outcome_OUTCOME_UNDETERMINED:
		t.Undetermined++
	case treatmentv1.Outcome_OUTCOME_REJECTED:
		t.Rejected++
	}
}
