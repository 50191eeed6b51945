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
	sites   []*treatmentv1.Site // to be stated before the next chunk
	apart   bool                // all are known; those of blocks are not new
	client  treatmentv1.TreatmentServiceClient
	stream  stream // nil: no row was sent; whoever has a block whose rows were may use it
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

// newPass makes a pass whose sites are known; nil: they come with the blocks.
func newPass(c *Client, r *reading, o *Options, sites []*treatmentv1.Site, sink Sink, number int) *pass {
	return &pass{
		number: number, reading: r, options: o, client: c.Treatment, sink: sink,
		begin: beginOf(o, nil), sites: sites, apart: sites != nil,
		pending: make(chan *inventory.Block, inFlight), answered: make(chan *Answered), spent: make(chan *treatmentv1.PrescribeStreamResponse, 2),
		totals: &treatmentv1.Totals{}, decided: &treatmentv1.Totals{}, summary: &treatmentv1.Summary{},
	}
}

// run makes the pass. When it returns nothing of it is left running, whatever the
// error; the error is the first one of either side.
func (p *pass) run(parent context.Context) error {
	ctx, cancel := context.WithCancelCause(parent)
	defer cancel(nil)
	var sides sync.WaitGroup
	side := func(work func() error) {
		sides.Go(func() {
			if err := work(); err != nil {
				cancel(err)
			}
		})
	}
	side(func() error { defer close(p.pending); return p.send(ctx) })
	side(func() error { defer close(p.answered); return p.receive(ctx) })
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

// state begins the stream with the sites that are known, or states those that have come
// since.
func (p *pass) state(ctx context.Context) (err error) {
	message := &treatmentv1.PrescribeStreamRequest{}
	switch {
	case p.stream == nil:
		if p.stream, err = p.client.PrescribeStream(ctx, grpc.ForceCodecV2(columnar.Codec())); err != nil {
			return err
		}
		p.begin.Sites = p.sites
		message.Message = &treatmentv1.PrescribeStreamRequest_Begin{Begin: p.begin}
	case len(p.sites) > 0:
		message.Message = &treatmentv1.PrescribeStreamRequest_Sites{Sites: &treatmentv1.StreamSites{Sites: p.sites}}
	default:
		return nil
	}
	p.sites = nil
	return p.stream.Send(message)
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
func (p *pass) send(ctx context.Context) error {
	for b := range p.reading.filled {
		p.read += int64(b.Len())
		if err := p.sendBlock(ctx, b); err != nil {
			return refusedSend(err)
		}
	}
	if p.reading.failed != nil {
		return p.reading.failed
	}
	if p.stream == nil && len(p.sites) > 0 { // no row can be read, and the server is heard all the same
		if err := p.state(ctx); err != nil {
			return refusedSend(err)
		}
	}
	if p.stream == nil {
		return nil
	}
	return p.stream.CloseSend()
}

// sendBlock hands the block to the receiving side before it sends its chunk, so
// that no answer comes for rows that nobody waits for. It is a send that waits
// while too many are unanswered, and that is the back-pressure.
func (p *pass) sendBlock(ctx context.Context, b *inventory.Block) error {
	if !p.apart {
		p.sites = append(p.sites, b.Sites...)
	}
	chunk := columnar.EncodedChunk{Rows: b.Good(), Message: b.Message} // the block may be done with as soon as it is handed on
	var refused error
	if chunk.Rows > 0 {
		if refused = p.state(ctx); refused != nil && p.stream == nil {
			return refused
		}
	}
	select {
	case p.pending <- b:
	case <-ctx.Done():
		return context.Cause(ctx)
	}
	if chunk.Rows == 0 || refused != nil {
		return refused
	}
	return p.stream.SendMsg(chunk)
}

func (p *pass) receive(ctx context.Context) error {
	var known columnar.Explanations
	for b := range p.pending {
		var response *treatmentv1.PrescribeStreamResponse
		if b.Good() > 0 {
			response = oneOf(p.spent)
			if err := p.stream.RecvMsg(response); err != nil {
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
	if p.stream == nil {
		return nil
	}
	return p.close(p.stream)
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
		if !p.apart {
			p.options.expect(a.Block.FileRows)
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
