package api

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"

	"example.org/rootward/proto/columnar"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/treatment"
)

type stemService = grpc.BidiStreamingServer[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]

// A chunk goes from one goroutine to the next: it is received, proposed for by one of
// several side by side, settled in the order of the stream, and sent. So no core waits
// while there is anything to do.

// proposersOf is how many chunks of a stream are proposed for at a time: half as many as
// there are cores, for a core's work is done beside each, and no more than one goroutine can
// settle. Tests set it.
var proposersOf = func() int { return max(1, min(4, runtime.GOMAXPROCS(0)/2)) }

// passage is a chunk on its way. Its memory is used again.
type passage struct {
	rows     chunkRows
	answer   chunkAnswer
	err      error
	proposed chan struct{} // gets one when it is, or cannot be
}

// pipeline is where the chunks of a stream are.
type pipeline struct {
	stream   stemService
	free     chan *passage
	received chan *passage // and looked through, that are to be proposed for
	unread   chan *passage // as they came, for a proposer that has nothing else to do
	inOrder  chan *passage // all, as they come
	settled  chan *passage // that are to be sent
	stuck    chan struct{} // closed once nothing is sent any more
	panicked atomic.Pointer[panicked]
}

// answerAll answers the chunks of a stream in their order. A panic beside it is one of the
// call, also for a chunk that is answered no more: what state the desk is in nobody knows.
func (st *stemStream) answerAll(stream stemService) error {
	proposers := proposersOf()
	room := proposers + 3 // one each is received, settled and sent
	l := &pipeline{
		stream: stream, free: make(chan *passage, room), received: make(chan *passage, room), unread: make(chan *passage),
		inOrder: make(chan *passage, room), settled: make(chan *passage, room), stuck: make(chan struct{}),
	}
	for range room {
		l.free <- &passage{proposed: make(chan struct{}, 1)}
	}
	err := st.answerOn(l, proposers)
	if p := l.panicked.Load(); p != nil {
		return raised(*p)
	}
	return err
}

func (st *stemStream) answerOn(l *pipeline, proposers int) error {
	// It ends here and nowhere else: a call that is cut off must still hear of it.
	ctx, stop := context.WithCancel(context.WithoutCancel(st.ctx))
	go l.receive(ctx)
	var working, sending sync.WaitGroup
	defer working.Wait() // those who propose use the desk
	defer stop()
	// Nor do they wait for the law of chunks that are answered no more.
	asking, giveUp := context.WithCancel(st.ctx)
	defer giveUp()
	st.ctx = asking
	list := make([]*proposer, proposers)
	for i := range list {
		list[i] = st.newProposer(1 + i)
		working.Go(func() { l.propose(ctx, list[i]) })
	}
	var notSent error
	sending.Go(func() { notSent = l.send(&st.sent, st.catalogue) })
	endSending := sync.OnceFunc(func() { close(l.settled); sending.Wait() })
	defer endSending() // where something panics, too: nothing is sent after the call
	err := st.settleAll(l)
	endSending()
	if notSent != nil {
		return Status(raised(notSent))
	}
	if err != nil {
		return err
	}
	for _, p := range list {
		st.measuring.used = st.measuring.used || p.measuring.used
	}
	uses, err := st.uses()
	if err != nil {
		return asideFailed(err)
	}
	return l.stream.Send(&treatmentv1.PrescribeStreamResponse{
		Message: &treatmentv1.PrescribeStreamResponse_Summary{Summary: st.summary(uses)},
	})
}

// receive receives up to the first error, or until ctx ends, by when nobody waits for a
// chunk. It ends with the call at the latest.
func (l *pipeline) receive(ctx context.Context) {
	for {
		var c *passage
		select {
		case c = <-l.free:
		case <-ctx.Done():
			return
		}
		c.err = l.guarded(func() error { return l.stream.RecvMsg(&c.rows.received) })
		failed := c.err != nil
		l.inOrder <- c // there is room for all
		if failed {
			c.proposed <- struct{}{}
			return
		}
		select {
		case l.unread <- c: // who waits here has taken all that are before it
		default:
			c.err = l.guarded(c.rows.read)
			l.received <- c
		}
	}
}

// propose proposes for chunks until ctx ends.
func (l *pipeline) propose(ctx context.Context, p *proposer) {
	for {
		var c *passage
		select {
		case c = <-l.received:
		case c = <-l.unread:
			c.err = l.guarded(c.rows.read)
		case <-ctx.Done():
			return
		}
		if c.err == nil {
			c.err = l.guarded(func() error { p.propose(&c.rows, &c.answer); return nil })
		}
		c.proposed <- struct{}{}
	}
}

// settleAll settles the chunks up to the end of the stream, or to the first that fails to
// be sent: who sends says why.
func (st *stemStream) settleAll(l *pipeline) error {
	for due := int64(1); ; {
		var c *passage
		select {
		case c = <-l.inOrder:
		case <-l.stuck:
			return nil
		}
		<-c.proposed
		switch {
		case errors.Is(c.err, io.EOF):
			return nil
		case c.err != nil:
			return Status(raised(c.err))
		}
		if err := checkDue(c.rows.StemChunk, due); err != nil {
			return err
		}
		due += int64(columnar.Rows(c.rows.StemChunk))
		st.settle(&c.rows, &c.answer)
		l.settled <- c // there is room for all
		if err := st.aside.Tidy(); err != nil {
			return asideFailed(err)
		}
	}
}

// send lists what the rows of answers share, and sends them, up to the first that cannot be.
func (l *pipeline) send(before *[]sent, catalogue *treatment.Catalogue) error {
	defer close(l.stuck)
	for c := range l.settled {
		err := guarded(func() error {
			chunk := &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: c.answer.list(&c.rows, before, catalogue)}
			defer c.answer.forget()
			return l.stream.Send(&treatmentv1.PrescribeStreamResponse{Message: chunk})
		})
		if err != nil {
			return err
		}
		l.free <- c
	}
	return nil
}

// read reads what was received.
func (k *chunkRows) read() error {
	if err := k.received.read(); err != nil {
		return err
	}
	chunk := k.received.GetChunk()
	if chunk == nil {
		return fail(codes.FailedPrecondition, StreamOrder, nil, "a chunk is due after the first message: begin once, then send chunks")
	}
	if err := checkChunk(chunk); err != nil {
		return err
	}
	k.look(chunk)
	return nil
}

// guarded is the function of that name, and keeps the first panic.
func (l *pipeline) guarded(f func() error) error {
	err := guarded(f)
	var p panicked
	if errors.As(err, &p) {
		l.panicked.CompareAndSwap(nil, &p)
	}
	return err
}

// panicked is a panic of a goroutine beside that of the call, with where it was.
type panicked string

func (p panicked) Error() string { return string(p) }

// guarded makes a panic an error: in a goroutine that nobody guards it ends the server.
func guarded(f func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = panicked(fmt.Sprintf("%v\n%s", p, debug.Stack()))
		}
	}()
	return f()
}

// raised panics again in the goroutine of the call, which is guarded as any call is.
func raised(err error) error {
	var p panicked
	if errors.As(err, &p) {
		panic(string(p))
	}
	return err
}
