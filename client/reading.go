package client

import (
	"context"
	"errors"
	"io"

	"example.org/rootward/client/inventory"
)

// readAhead is how many blocks may wait to be sent, besides the one that is read. They are
// read while the sites of the file are found, which keeps one core busy alone.
const readAhead = 1

// reading reads an inventory into blocks, in the order of the file, as far ahead as may be.
type reading struct {
	filled chan *inventory.Block // closed at the end of the file, or of the reading
	failed error                 // what ended it, once filled is closed; nil: the end of the file
	free   chan *inventory.Block // to be filled again
	cancel context.CancelFunc
}

// startReading begins to read. The caller stops it.
func startReading(ctx context.Context, path string, o *Options) *reading {
	ctx, cancel := context.WithCancel(ctx)
	r := &reading{filled: make(chan *inventory.Block, readAhead), free: make(chan *inventory.Block, readAhead+2*inFlight), cancel: cancel}
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
		b := r.block()
		switch err := reader.Fill(b); {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
		select {
		case r.filled <- b:
		case <-ctx.Done():
		}
	}
	return context.Cause(ctx)
}

// block is one to be filled, if need be a new one.
func (r *reading) block() *inventory.Block {
	select {
	case b := <-r.free:
		return b
	default:
		return &inventory.Block{}
	}
}

// done gives a block back.
func (r *reading) done(b *inventory.Block) {
	select {
	case r.free <- b:
	default:
	}
}

// stop ends the reading, and returns when nothing of it is left.
func (r *reading) stop() {
	r.cancel()
	for range r.filled { // until it is closed
	}
}
