package api

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"

	"example.org/rootward/proto/columnar"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// While a chunk is answered so many are read ahead of it: client and server take turns on
// the cores, and neither is to wait for the other.
const ahead = 2

type stemService = grpc.BidiStreamingServer[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]

// answerAll answers the chunks of a stream in their order. While one is answered those
// ahead of it and one more are read, and the one before is sent.
func (st *stemStream) answerAll(stream stemService) error {
	// It ends here and nowhere else: a call that is cut off must still hear of it.
	ctx, stop := context.WithCancel(context.WithoutCancel(stream.Context()))
	defer stop()
	received := startReceiving(ctx, stream)
	out := startSending(stream, &st.sent)
	defer out.stop()
	summary, err := st.answerChunks(received, out)
	if sent := out.finish(); sent != nil {
		return Status(raised(sent))
	}
	if err != nil {
		return err
	}
	return stream.Send(summary)
}

// answerChunks answers up to the end of the stream, and gives the summary.
func (st *stemStream) answerChunks(in *receiving, out *sending) (*treatmentv1.PrescribeStreamResponse, error) {
	for due := int64(1); ; {
		r := in.next()
		switch {
		case errors.Is(r.err, io.EOF):
			uses, err := st.uses()
			if err != nil {
				return nil, asideFailed(err)
			}
			return &treatmentv1.PrescribeStreamResponse{
				Message: &treatmentv1.PrescribeStreamResponse_Summary{Summary: st.summary(uses)},
			}, nil
		case r.err != nil:
			return nil, Status(raised(r.err))
		}
		if err := checkDue(r.rows.StemChunk, due); err != nil {
			return nil, err
		}
		due += int64(columnar.Rows(r.rows.StemChunk))
		var open bool
		if st.answer, open = <-out.free; !open {
			return nil, nil // what failed to be sent says why
		}
		out.answers <- st.answerChunk(r.rows)
		in.answered <- r.rows
		if err := st.aside.Tidy(); err != nil {
			return nil, asideFailed(err)
		}
	}
}

// receiving is the chunks of a stream in the order in which they come, up to the first
// error.
type receiving struct {
	read     chan received   // and looked through
	unread   chan received   // as they came, for one who has nothing else to do
	answered chan *chunkRows // whose memory is used again
}

type received struct {
	rows *chunkRows // of a checked chunk
	err  error
}

// startReceiving receives in a goroutine of its own, until ctx ends, by when nobody waits
// for a chunk. It ends with the call at the latest.
func startReceiving(ctx context.Context, stream stemService) *receiving {
	in := &receiving{read: make(chan received, ahead), unread: make(chan received), answered: make(chan *chunkRows, ahead+2)}
	go in.receive(ctx, stream)
	return in
}

func (in *receiving) receive(ctx context.Context, stream stemService) {
	for {
		var r received
		select {
		case r.rows = <-in.answered:
		default:
			r.rows = &chunkRows{}
		}
		if r.err = guarded(func() error { return stream.RecvMsg(&r.rows.received) }); r.err == nil {
			select {
			case in.unread <- r: // who waits here has taken all that are before it
				continue
			default:
				r.err = guarded(r.rows.read)
			}
		}
		select {
		case in.read <- r:
		case <-ctx.Done():
			return
		}
		if r.err != nil {
			return
		}
	}
}

// next gives the next chunk. It reads it itself where it would only wait for that.
func (in *receiving) next() received {
	select {
	case r := <-in.read:
		return r
	case r := <-in.unread:
		r.err = r.rows.read()
		return r
	}
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

// sending lists what the rows of answers share, and sends them, in a goroutine of its own.
type sending struct {
	answers chan *chunkAnswer
	free    chan *chunkAnswer // whose answer was sent; closed once one was not
	failed  chan error        // one error or nil, when all is sent
	stopped bool
}

func startSending(stream stemService, before *[]sent) *sending {
	out := &sending{answers: make(chan *chunkAnswer, 2), free: make(chan *chunkAnswer, 2), failed: make(chan error, 1)}
	out.free <- &chunkAnswer{}
	out.free <- &chunkAnswer{}
	go func() { out.failed <- out.send(stream, before) }()
	return out
}

func (out *sending) send(stream stemService, before *[]sent) error {
	defer close(out.free)
	for a := range out.answers {
		err := guarded(func() error {
			chunk := &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: a.list(before)}
			return stream.Send(&treatmentv1.PrescribeStreamResponse{Message: chunk})
		})
		if err != nil {
			return err
		}
		out.free <- a
	}
	return nil
}

// finish waits until all is sent, or until something could not be.
func (out *sending) finish() error {
	out.stop()
	return <-out.failed
}

// stop lets the goroutine end once it has sent what it was given.
func (out *sending) stop() {
	if !out.stopped {
		out.stopped = true
		close(out.answers)
	}
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
