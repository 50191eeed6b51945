package client

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"sync/atomic"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/rulewire"
)

// patience is how long a server may be away before a call that outlives it gives up:
// long enough for one that is started anew with its plugins.
const patience = time.Minute

// maxSteps is how often a call goes on without having got any further.
const maxSteps = 5

// NewRequestID makes an id to create a batch with, a random UUID (RFC 9562, version 4).
func NewRequestID() string {
	var b [16]byte
	rand.Read(b[:]) // it never fails
	b[6], b[8] = b[6]&0x0f|0x40, b[8]&0x3f|0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

// Submit creates a batch of the rows of an inventory file that can be read, uploads
// them and starts it. A server that is away meanwhile is waited for. If this client is,
// the same call with the same request id, file and options goes on where it stopped.
func (c *Client) Submit(ctx context.Context, path string, o Options, requestID, title string) (*inventoryv1.Batch, error) {
	sites, err := sitesOf(ctx, path, &o)
	if err != nil {
		return nil, err
	}
	if len(sites) == 0 {
		return nil, fmt.Errorf("%s has no row that can be read; rootward prescribe lists what is wrong", path)
	}
	begin := beginOf(&o, sites)
	made, err := c.Inventory.CreateBatch(ctx, &inventoryv1.CreateBatchRequest{RequestId: requestID, Title: title, Begin: begin})
	if err != nil {
		return nil, err
	}
	b := made.GetBatch()
	if b.GetState() != inventoryv1.BatchState_BATCH_STATE_UPLOADING {
		return b, nil // it was started before
	}
	u := &upload{client: c, path: path, options: &o, sites: sites, batch: b.GetBatchId()}
	if err := c.lasting(ctx, u.batch, func() error { return u.once(ctx) }, u.kept.Load); err != nil {
		return nil, err
	}
	var started *inventoryv1.StartBatchResponse
	err = c.lasting(ctx, u.batch, func() (err error) {
		started, err = c.Inventory.StartBatch(ctx, &inventoryv1.StartBatchRequest{BatchId: u.batch, Chunks: u.chunks, Rows: u.rows})
		return err
	}, noFurther)
	if err == nil && o.Unread != nil {
		o.Unread(u.unread)
	}
	return started.GetBatch(), err
}

func beginOf(o *Options, sites []*treatmentv1.Site) *treatmentv1.StreamBegin {
	return &treatmentv1.StreamBegin{Date: rulewire.EncodeDate(o.Date), Sites: sites, Settings: o.Settings, TrialDigests: o.Trial}
}

// lasting does something about a batch, and does it once more as long as the server was
// away meanwhile and comes back within patience. Far says how far it has got; it may
// stop a few times at one place.
func (c *Client) lasting(ctx context.Context, id string, do func() error, far func() int64) error {
	last, steps := far(), 0
	for {
		err := do()
		if status.Code(err) != codes.Unavailable || ctx.Err() != nil {
			return err
		}
		if now := far(); now != last {
			last, steps = now, 0
		}
		if steps++; steps > maxSteps {
			return err
		}
		if c.await(ctx, id) != nil {
			return err
		}
	}
}

func noFurther() int64 { return 0 }

// await waits for a server that is away. A connection may still be taken for ready when
// its server is killed, and a call on it then fails at once.
func (c *Client) await(ctx context.Context, id string) error {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	for {
		_, err := c.Inventory.GetBatch(ctx, &inventoryv1.GetBatchRequest{BatchId: id}, grpc.WaitForReady(true))
		if status.Code(err) != codes.Unavailable {
			return err
		}
		select {
		case <-time.After(awaitAgain):
		case <-ctx.Done():
			return err
		}
	}
}

// awaitAgain is how long a server that is away is left alone.
const awaitAgain = 200 * time.Millisecond

// upload sends the chunks of a file that the server does not keep yet.
type upload struct {
	client  *Client
	path    string
	options *Options
	sites   []*treatmentv1.Site
	batch   string

	skip         int64        // chunks that were kept when this attempt began
	kept         atomic.Int64 // chunks that are kept, before the first that is not
	chunks, rows int64        // of the file
	unread       int64        // rows of the file that are in no chunk
}

// once uploads from the first chunk that is not kept.
func (u *upload) once(parent context.Context) error {
	got, err := u.client.Inventory.GetBatch(parent, &inventoryv1.GetBatchRequest{BatchId: u.batch})
	if err != nil {
		return err
	}
	u.skip = got.GetBatch().GetNextChunk()
	u.kept.Store(u.skip)
	ctx, cancel := context.WithCancelCause(parent)
	defer cancel(nil)
	s, err := u.client.Inventory.UploadChunks(ctx, grpc.ForceCodecV2(columnar.Codec()))
	if err != nil {
		return err
	}
	received := make(chan error, 1)
	go func() {
		err := u.receive(s)
		if err != nil {
			cancel(err)
		}
		received <- err
	}()
	sending := u.send(ctx, s)
	if sending != nil {
		cancel(sending)
	}
	if err := first(parent, ctx, errors.Join(<-received, sending)); err != nil {
		return err
	}
	if kept := u.kept.Load(); kept < u.chunks {
		return fmt.Errorf("%d chunks were sent and the server keeps those before chunk %d", u.chunks, kept)
	}
	return nil
}

// send reads the file as a pass of Prescribe does, with the same chunks.
func (u *upload) send(ctx context.Context, s grpc.BidiStreamingClient[inventoryv1.UploadChunksRequest, inventoryv1.UploadChunksResponse]) error {
	reading := startReading(ctx, u.path, u.options)
	defer reading.stop()
	p := newPass(u.client, reading, u.options, u.sites, nil, 1)
	p.stream, p.sites = &chunkSender{upload: u, to: s}, nil // the batch has its sites
	go func() {
		for range p.pending {
			reading.passed()
		}
	}()
	defer close(p.pending)
	u.chunks, u.rows = 0, 0
	err := p.send(ctx)
	u.unread = p.read - u.rows
	return err
}

func (u *upload) receive(s grpc.BidiStreamingClient[inventoryv1.UploadChunksRequest, inventoryv1.UploadChunksResponse]) error {
	for {
		answer, err := s.Recv()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		u.kept.Store(answer.GetNextChunk())
		if u.options.Progress != nil {
			u.options.Progress(0, answer.GetNextChunk())
		}
	}
}

// Watch tells how a batch stands, at once and whenever it has got on, and gives it when
// it has ended. A server that is away meanwhile is waited for.
func (c *Client) Watch(ctx context.Context, id string, tell func(*inventoryv1.Batch)) (*inventoryv1.Batch, error) {
	got, err := c.Inventory.GetBatch(ctx, &inventoryv1.GetBatchRequest{BatchId: id})
	if err != nil {
		return nil, err
	}
	last := got.GetBatch()
	err = c.lasting(ctx, id, func() error {
		s, err := c.Inventory.WatchBatch(ctx, &inventoryv1.WatchBatchRequest{BatchId: id})
		if err != nil {
			return err
		}
		for {
			answer, err := s.Recv()
			if errors.Is(err, io.EOF) {
				return nil
			}
			if err != nil {
				return err
			}
			last = answer.GetBatch()
			tell(last)
		}
	}, func() int64 { return last.GetRowsDecided() })
	return last, err
}
