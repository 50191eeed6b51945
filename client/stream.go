package client

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client/inventory"
	"example.org/rootward/client/wording"
)

// inFlight is how many blocks may wait for their answers: enough to keep reader,
// server and sink at work together, few enough that memory stays small.
const inFlight = 2

// pass is one pass over an inventory: one goroutine reads, one sends, one receives, and
// the caller's feeds the sink. Blocks wait in pending, in the order
// of the file, so that each answer finds its rows.
type pass struct {
	number  int
	options *Options
	begin   *treatmentv1.StreamBegin
	client  treatmentv1.TreatmentServiceClient
	sink    Sink

	pending  chan *inventory.Block
	answered chan *Answered
	spent    chan *treatmentv1.PrescribeStreamResponse // whose memory is used again
	reading  *reading

	read    int64               // rows of the file that are wanted
	totals  *treatmentv1.Totals // of the rows read
	decided *treatmentv1.Totals // of the rows sent
	summary *treatmentv1.Summary
}

type stream = grpc.BidiStreamingClient[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]

func newPass(c *Client, r *reading, o *Options, sites []*treatmentv1.Site, sink Sink, number int) *pass {
	return &pass{
		number: number, reading: r, options: o, client: c.Treatment, sink: sink,
		begin:   &treatmentv1.StreamBegin{Date: rulewire.EncodeDate(o.Date), Sites: sites, Settings: o.Settings, TrialDigests: o.Trial},
		pending: make(chan *inventory.Block, inFlight), answered: make(chan *Answered), spent: make(chan *treatmentv1.PrescribeStreamResponse, 2),
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
	var sides sync.WaitGroup
	side := func(work func() error) {
		sides.Go(func() {
			if err := work(); err != nil {
				cancel(err)
			}
		})
	}
	side(func() error { defer close(p.pending); return p.send(ctx, s) })
	side(func() error { defer close(p.answered); return p.receive(ctx, s) })
	err := p.deliver()
	if err != nil {
		cancel(err)
	}
	sides.Wait()
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
	s, err := p.client.PrescribeStream(ctx, grpc.ForceCodecV2(columnar.Codec()))
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

// send sends what is read. It ends early, without an error, when the server has ended the
// stream.
func (p *pass) send(ctx context.Context, s stream) error {
	for b := range p.reading.filled {
		p.read += int64(b.Len())
		if err := p.sendBlock(ctx, s, b); err != nil {
			return refusedSend(err)
		}
	}
	if p.reading.failed != nil {
		return p.reading.failed
	}
	if s == nil {
		return nil
	}
	return s.CloseSend()
}

// sendBlock hands the block to the receiving side before it sends its chunk, so
// that no answer comes for rows that nobody waits for. It is a send that waits
// while too many are unanswered, and that is the back-pressure.
func (p *pass) sendBlock(ctx context.Context, s stream, b *inventory.Block) error {
	chunk := columnar.EncodedChunk{Rows: b.Good(), Message: b.Message} // the block may be done with as soon as it is handed on
	select {
	case p.pending <- b:
	case <-ctx.Done():
		return context.Cause(ctx)
	}
	if chunk.Rows == 0 {
		return nil
	}
	return s.SendMsg(chunk)
}

func (p *pass) receive(ctx context.Context, s stream) error {
	var known columnar.Explanations
	for b := range p.pending {
		var response *treatmentv1.PrescribeStreamResponse
		if b.Good() > 0 {
			response = oneOf(p.spent)
			if err := s.RecvMsg(response); err != nil {
				return ended(err)
			}
		}
		a, err := newAnswered(b, response, &known)
		if err != nil {
			return err
		}
		select {
		case p.answered <- a:
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
	if s == nil {
		return nil
	}
	return p.close(s)
}

// done gives back what is used again of rows that were handed on.
func (p *pass) done(a *Answered) {
	p.reading.done(a.Block)
	if a.response != nil {
		p.spent <- a.response // there is room: one is received, and one handed on
	}
}

// deliver hands all rows to the sink, in the order of the file.
func (p *pass) deliver() error {
	for a := range p.answered {
		for i := range a.Len() {
			outcome := a.Outcome(i)
			count(p.totals, outcome)
			if a.Block.Index(i) >= 0 {
				count(p.decided, outcome)
			}
		}
		if err := p.feed(a); err != nil {
			return err
		}
		p.done(a)
		if p.options.Progress != nil {
			p.options.Progress(p.number, p.totals.GetRows())
		}
	}
	return nil
}

func (p *pass) feed(a *Answered) error {
	if sink, ok := p.sink.(AnsweredSink); ok {
		return sink.Rows(a)
	}
	for i := range a.Len() {
		if err := p.sink.Row(a.Row(i)); err != nil {
			return err
		}
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
		return fmt.Errorf("rows read: %d, answered: %d; the results cannot be trusted", p.read, p.totals.GetRows())
	}
	if theirs := p.summary.GetTotals(); p.decided.GetRows() > 0 && !proto.Equal(theirs, p.decided) {
		return fmt.Errorf("the server counts %s, its answers were %s; the results cannot be trusted", words(theirs), words(p.decided))
	}
	return nil
}

func words(t *treatmentv1.Totals) string {
	return fmt.Sprintf("%s (%d prescribed, %d deferred, %d undetermined, %d rejected)",
		wording.Count(t.GetRows(), "row"), t.GetPrescribed(), t.GetDeferred(), t.GetUndetermined(), t.GetRejected())
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
