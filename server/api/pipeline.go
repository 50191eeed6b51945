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
)

type stemService = grpc.BidiStreamingServer[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]

// Chunks are received by one goroutine and answered by several side by side, each of which
// takes one from its bytes to the proposals for its rows: what it writes it soon reads, on its
// own core. Settling and sending goes in turns, by whoever brings the chunk that is due, while
// the others propose for those behind it.

// proposersOf is how many chunks of a stream are proposed for at a time: as many as there are
// cores, but no more than one goroutine can settle. Tests set it.
var proposersOf = func() int { return min(4, runtime.GOMAXPROCS(0)) }

// passage is a chunk on its way. Its memory is used again.
type passage struct {
	rows   chunkRows
	answer chunkAnswer
	number int // in the stream, from 0
	err    error
}

// pipeline is where the chunks of a stream are.
type pipeline struct {
	stream   stemService
	free     chan *passage
	received chan *passage // as they came
	turns    turns
	dueRow   int64         // the first of the chunk that is due
	over     chan struct{} // closed once no chunk is answered any more
	err      error         // why; nil: all were
	panicked atomic.Pointer[panicked]
}

// answerAll answers the chunks of a stream in their order. A panic beside it is one of the
// call, also for a chunk that is answered no more: what state the desk is in nobody knows.
func (st *stemStream) answerAll(stream stemService) error {
	proposers := proposersOf()
	room := proposers + 2 // one is received, and one waits for its turn
	l := &pipeline{
		stream: stream, free: make(chan *passage, room), received: make(chan *passage, room),
		turns: turns{waiting: make([]*passage, room)}, dueRow: 1, over: make(chan struct{}),
	}
	for range room {
		l.free <- st.passages.take()
	}
	err := st.answerOn(l, proposers)
	if p := l.panicked.Load(); p != nil {
		return raised(*p)
	}
	if err == nil {
		st.passages.put(l.free)
	}
	return err
}

// passages are those of streams that have ended well. The collector of garbage takes them.
type passages struct{ pool sync.Pool }

func (l *passages) take() *passage {
	if c, ok := l.pool.Get().(*passage); ok {
		return c
	}
	return &passage{}
}

// put keeps passages that nobody else has any more, with nothing of what was in them.
func (l *passages) put(free chan *passage) {
	for len(free) > 0 {
		c := <-free
		c.rows.forget()
		c.answer.reset(nil)
		l.pool.Put(c)
	}
}

func (st *stemStream) answerOn(l *pipeline, proposers int) error {
	// It ends here and nowhere else: a call that is cut off must still hear of it.
	ctx, stop := context.WithCancel(context.WithoutCancel(st.ctx))
	go l.receive(ctx, st)
	var working sync.WaitGroup
	defer working.Wait() // those who propose use the desk
	defer stop()
	// Nor do they wait for the law of chunks that are answered no more.
	asking, giveUp := context.WithCancel(st.ctx)
	defer giveUp()
	st.ctx = asking
	list := make([]*proposer, proposers)
	for i := range list {
		list[i] = st.newProposer(1 + i) // number 0's planners are those that count, made while others propose
		working.Go(func() { list[i].answer(ctx, l) })
	}
	<-l.over
	if l.err != nil {
		return l.err
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

// receive receives chunks up to the first error, or until ctx ends, by when nobody waits for a
// chunk. It ends with the call at the latest.
func (l *pipeline) receive(ctx context.Context, st *stemStream) {
	for n := 0; ; n++ {
		var c *passage
		select {
		case c = <-l.free:
		case <-ctx.Done():
			return
		}
		c.number, c.err = n, l.guarded(func() error { return l.next(st, &c.rows.received) })
		c.rows.stated = len(st.order) // to which nobody else adds
		failed := c.err != nil
		l.received <- c // there is room for all
		if failed {
			return
		}
	}
}

// next receives a message, and before it the sites that come ahead of it.
func (l *pipeline) next(st *stemStream, m *incoming) error {
	for {
		if err := l.stream.RecvMsg(m); err != nil {
			return err
		}
		more, err := m.sites()
		if err != nil || more == nil {
			return err
		}
		var f faults
		if err := st.addSites(&f, more.GetSites()); err != nil {
			return err
		}
		if err := f.err(); err != nil {
			return err
		}
	}
}

// answer proposes for chunks, and settles those whose turn it is, until ctx ends or there is
// none that can be answered.
func (p *proposer) answer(ctx context.Context, l *pipeline) {
	for {
		var c *passage
		select {
		case c = <-l.received:
		case <-ctx.Done():
			return
		}
		if c.err == nil {
			c.err = l.guarded(func() error { return p.read(c) })
		}
		for c = l.turns.after(c); c != nil; c = l.turns.next() {
			last := errors.Is(c.err, io.EOF)
			var err error
			if !last {
				err = l.guarded(func() error { return p.finish(c, l) })
			}
			l.free <- c // there is room for all
			if last || err != nil {
				l.end(err)
				return // and it stays nobody's turn
			}
		}
	}
}

// read reads a chunk and proposes for its rows.
func (p *proposer) read(c *passage) error {
	if err := c.rows.read(); err != nil {
		return err
	}
	p.propose(&c.rows, &c.answer)
	return nil
}

// finish settles the chunk that is due and sends its answer.
func (p *proposer) finish(c *passage, l *pipeline) error {
	if c.err != nil {
		return c.err
	}
	if err := checkDue(c.rows.StemChunk, l.dueRow); err != nil {
		return err
	}
	l.dueRow += int64(columnar.Rows(c.rows.StemChunk))
	p.settle(&c.rows, &c.answer)
	if err := p.send(c, l); err != nil {
		return err
	}
	if err := p.aside.Tidy(); err != nil {
		return asideFailed(err)
	}
	return nil
}

// send lists what the rows of an answer share, and sends it.
func (p *proposer) send(c *passage, l *pipeline) error {
	defer c.answer.forget()
	chunk := &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: p.list(&c.rows, &c.answer)}
	return l.stream.Send(&treatmentv1.PrescribeStreamResponse{Message: chunk})
}

// end tells that no chunk is answered any more, and why; nil: all were. It is called once.
func (l *pipeline) end(why error) {
	if why != nil {
		l.err = Status(why)
	}
	close(l.over)
}

// turns has passages go in their order. Who brings one waits for nobody: it goes on with
// those that are due, or leaves it to who is at it.
type turns struct {
	sync.Mutex
	waiting []*passage // by their number, in a ring; there is room for all
	due     int
	taken   bool
}

// after brings a passage, and gives the one that is due, whose turn then is the caller's up
// to the last that next gives. It is nil where another has the turn, or none is due yet.
func (t *turns) after(c *passage) *passage {
	t.Lock()
	defer t.Unlock()
	t.waiting[c.number%len(t.waiting)] = c
	if t.taken {
		return nil
	}
	return t.take()
}

// next gives the one that is due after that whose turn it was, or gives the turn back.
func (t *turns) next() *passage {
	t.Lock()
	defer t.Unlock()
	return t.take()
}

func (t *turns) take() *passage {
	at := t.due % len(t.waiting)
	c := t.waiting[at]
	t.taken = c != nil
	if t.taken {
		t.waiting[at] = nil
		t.due++
	}
	return c
}

// read reads what was received.
func (k *chunkRows) read() error {
	if err := k.received.read(); err != nil {
		return err
	}
	chunk := k.received.GetChunk()
	if chunk == nil {
		return fail(codes.FailedPrecondition, StreamOrder, nil, "a chunk or sites are due after the first message: begin once, then send these")
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
