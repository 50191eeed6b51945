package client

import (
	"context"
	"errors"
	"io"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client/inventory"
)

// maxBlocks is how many blocks there may be between the file and the sink: one each is read,
// sent, received and handed on, inFlight wait for their answers, and one is ready to be sent.
const maxBlocks = 5 + inFlight

// reading reads an inventory into blocks, in the order of the file, as far ahead as may be.
type reading struct {
	filled chan *inventory.Block // closed at the end of the file, or of the reading
	// Once filled is closed:
	failed error                 // what ended it; nil: the end of the file
	sites  []*treatmentv1.Site   // of the file, with all that it says of them
	late   bool                  // a block came with one of them before all was said of it
	room   chan struct{}         // for as many blocks as may be read
	free   chan *inventory.Block // to be filled again
	cancel context.CancelFunc
}

// startReading begins to read. The caller stops it.
func startReading(ctx context.Context, path string, o *Options) *reading {
	ctx, cancel := context.WithCancel(ctx)
	r := &reading{
		filled: make(chan *inventory.Block, maxBlocks), room: make(chan struct{}, maxBlocks),
		free: make(chan *inventory.Block, maxBlocks), cancel: cancel,
	}
	for range maxBlocks {
		r.room <- struct{}{}
	}
	go func() {
		defer close(r.filled)
		r.failed = r.read(ctx, path, o)
	}()
	return r
}

func (r *reading) read(ctx context.Context, path string, o *Options) error {
	reader, err := inventory.Open(path)
	if err != nil {
		return err
	}
	defer reader.Close()
	reader.Only(o.Site)
	if o.Settings != nil {
		reader.Uncertainty(o.Settings.CoordinateUncertaintyM)
	}
	for ctx.Err() == nil {
		select {
		case <-r.room:
		case <-ctx.Done():
			return context.Cause(ctx)
		}
		b := oneOf(r.free)
		switch err := reader.Fill(b); {
		case errors.Is(err, io.EOF):
			r.sites, r.late = reader.Sites()
			return nil
		case err != nil:
			return err
		}
		r.filled <- b // there is room for all
	}
	return context.Cause(ctx)
}

// oneOf takes what is to be used again, and where there is nothing makes it.
func oneOf[T any](spent <-chan *T) *T {
	select {
	case v := <-spent:
		return v
	default:
		return new(T)
	}
}

// done gives a block back, to be filled again.
func (r *reading) done(b *inventory.Block) {
	r.free <- b
	r.passed()
}

// passed makes room for another block instead of one that somebody may still refer to.
func (r *reading) passed() { r.room <- struct{}{} }

// stop ends the reading, and returns when nothing of it is left.
func (r *reading) stop() {
	r.cancel()
	for range r.filled { // until it is closed
	}
}
