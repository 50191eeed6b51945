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

// received chunks are used again once they are answered: while one is, the next is read.
const inHand = 1

type stemService = grpc.BidiStreamingServer[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]

// answerAll answers the chunks of a stream in their order. While one is answered the
// next is read and the one before is sent, so that three are held at most.
func (st *stemStream) answerAll(stream stemService) error {
	// It ends here and nowhere else: a call that is cut off must still hear of it.
	ctx, stop := context.WithCancel(context.WithoutCancel(stream.Context()))
	defer stop()
	answered := make(chan *chunkRows, inHand)
	received := receive(ctx, stream, answered)
	out := startSending(stream)
	defer out.stop()
	summary, err := st.answerChunks(received, answered, out)
	if sent := out.finish(); sent != nil {
		return Status(raised(sent))
	}
	if err != nil {
		return err
	}
	return stream.Send(summary)
}

// answerChunks answers up to the end of the stream, and gives the summary.
func (st *stemStream) answerChunks(received <-chan received, answered chan<- *chunkRows, out *sending) (*treatmentv1.PrescribeStreamResponse, error) {
	for {
		r := <-received
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
		var open bool
		if st.answer, open = <-out.free; !open {
			return nil, nil // what failed to be sent says why
		}
		out.answers <- outgoing{st.answerChunk(r.rows), st.answer}
		answered <- r.rows
		if err := st.aside.Tidy(); err != nil {
			return nil, asideFailed(err)
		}
	}
}

type received struct {
	rows *chunkRows // of a checked chunk
	err  error
}

// receive reads chunks up to the first error, or until ctx ends, by when nobody waits
// for one. It ends with the call at the latest. It uses the memory of answered chunks
// again.
func receive(ctx context.Context, stream stemService, answered <-chan *chunkRows) <-chan received {
	chunks := make(chan received)
	go func() {
		for due := int64(1); ; {
			var r received
			select {
			case r.rows = <-answered:
			default:
				r.rows = &chunkRows{}
			}
			r.err = guarded(func() error { return r.rows.receive(stream, due) })
			select {
			case chunks <- r:
			case <-ctx.Done():
				return
			}
			if r.err != nil {
				return
			}
			due += int64(columnar.Rows(r.rows.StemChunk))
		}
	}()
	return chunks
}

// receive reads the next chunk, whose first row has the number that is due.
func (k *chunkRows) receive(stream stemService, due int64) error {
	if err := stream.RecvMsg(&k.received); err != nil {
		return err
	}
	chunk := k.received.GetChunk()
	if chunk == nil {
		return fail(codes.FailedPrecondition, StreamOrder, nil, "a chunk is due after the first message: begin once, then send chunks")
	}
	if err := checkChunk(chunk, due); err != nil {
		return err
	}
	k.look(chunk)
	return nil
}

// sending sends answers in a goroutine of its own.
type sending struct {
	answers chan outgoing
	free    chan *chunkAnswer // whose answer was sent; closed once one was not
	failed  chan error        // one error or nil, when all is sent
	stopped bool
}

type outgoing struct {
	message *treatmentv1.PrescribeStreamResponse
	of      *chunkAnswer // whose memory the message has
}

func startSending(stream stemService) *sending {
	out := &sending{answers: make(chan outgoing, 2), free: make(chan *chunkAnswer, 2), failed: make(chan error, 1)}
	out.free <- &chunkAnswer{}
	out.free <- &chunkAnswer{}
	go func() { out.failed <- out.send(stream) }()
	return out
}

func (out *sending) send(stream stemService) error {
	defer close(out.free)
	for a := range out.answers {
		if err := guarded(func() error { return stream.Send(a.message) }); err != nil {
			return err
		}
		out.free <- a.of
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
