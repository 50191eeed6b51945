package api

import (
	"context"
	"errors"
	"io"
	"sync"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/batch"
)

// UploadChunks keeps chunks until the client closes its side, and decides them ahead.
func (s *Inventory) UploadChunks(stream uploadStream) error {
	if err := s.keeping(); err != nil {
		return err
	}
	ctx, stop := context.WithCancel(stream.Context())
	defer stop()
	k := keeper{Inventory: s, ctx: ctx, turns: make(chan struct{}, uploadsAtOnce)}
	defer k.end()
	free := make(chan *uploaded, uploadsAtOnce+1)
	for range cap(free) {
		free <- &uploaded{}
	}
	received, next := receiveUploads(ctx, stream, free), int64(0)
	for received != nil || len(k.kept) > 0 {
		select {
		case u := <-received:
			if u.err != nil { // nothing comes any more
				received = nil
			}
			k.keep(u)
		case <-k.first():
			u := k.kept[0]
			k.kept = k.kept[1:]
			if errors.Is(u.err, io.EOF) {
				return nil
			}
			if u.err != nil {
				return Status(raised(u.err))
			}
			next = max(next, u.next) // a later one may have been kept before
			if err := stream.Send(&inventoryv1.UploadChunksResponse{Index: u.message.GetIndex(), NextChunk: next}); err != nil {
				return Status(err)
			}
			free <- u
		}
	}
	return nil
}

// How many chunks are read, decided and kept side by side: of an upload, and of all. One of
// 65,536 rows whose words all differ has 4 MB, and takes 15 MB more once it is read. An upload
// holds the bytes of one more chunk than are kept side by side.
const (
	uploadsAtOnce = 4
	chunksAtOnce  = 8
)

// keptIn is what a chunk needs of memory while it is kept, which others have had before.
type keptIn struct {
	rows treatmentv1.StemChunk
	room []byte // for the store
}

var memories = sync.Pool{New: func() any { return &keptIn{} }}

type uploadStream = grpc.BidiStreamingServer[inventoryv1.UploadChunksRequest, inventoryv1.UploadChunksResponse]

// uploaded is a chunk on its way, in memory that another had before.
type uploaded struct {
	message incomingUpload
	next    int64 // the first that is not kept
	err     error
	done    chan struct{} // closed when it is kept, or cannot be
}

// receiveUploads receives chunks, up to the first error, or until ctx ends.
func receiveUploads(ctx context.Context, stream uploadStream, free <-chan *uploaded) <-chan *uploaded {
	list := make(chan *uploaded)
	go func() {
		for id := ""; ; {
			var u *uploaded
			select {
			case u = <-free:
			case <-ctx.Done():
				return
			}
			u.err = guarded(func() error { return u.receive(stream, id) })
			failed := u.err != nil
			id = u.message.GetBatchId()
			select {
			case list <- u:
			case <-ctx.Done():
				return
			}
			if failed {
				return
			}
		}
	}()
	return list
}

// receive receives a chunk, of the batch of the one before, if there was one.
func (u *uploaded) receive(stream uploadStream, id string) error {
	if err := stream.RecvMsg(&u.message); err != nil {
		return err
	}
	q := &u.message.UploadChunksRequest
	if id != "" && q.GetBatchId() != id {
		return fail(codes.FailedPrecondition, StreamOrder, nil, "batch_id: this stream is for batch %s, not %s: open one for each batch", id, quoted(q.GetBatchId()))
	}
	return nil
}

// keeper keeps the chunks of an upload side by side.
type keeper struct {
	*Inventory
	ctx     context.Context
	open    func() *batch.Ahead // by the first that is kept
	ahead   *batch.Ahead        // once it is open
	turns   chan struct{}       // of the chunks that are being kept
	running sync.WaitGroup
	kept    []*uploaded // or about to be, in the order in which they came
}

// keep begins to keep a chunk, if it could be received.
func (k *keeper) keep(u *uploaded) {
	u.done = make(chan struct{})
	k.kept = append(k.kept, u)
	if u.err != nil {
		close(u.done)
		return
	}
	if id := u.message.GetBatchId(); k.open == nil {
		k.open = sync.OnceValue(func() *batch.Ahead {
			k.ahead = k.batches.Ahead(k.ctx, id)
			return k.ahead
		})
	}
	k.running.Go(func() {
		defer close(u.done)
		u.err = guarded(func() error { return k.put(u) })
	})
}

// put checks a chunk and keeps it, once few enough of this upload are, and of all. Those do
// not wait for clients, nor for plugins that are asked when it is opened what decides.
func (k *keeper) put(u *uploaded) error {
	if !take(k.ctx, k.turns) {
		return k.ctx.Err()
	}
	defer giveBack(k.turns)
	k.open()
	if !take(k.ctx, k.uploads) {
		return k.ctx.Err()
	}
	defer giveBack(k.uploads)
	memory := memories.Get().(*keptIn)
	defer memories.Put(memory)
	q := &u.message.UploadChunksRequest
	chunk, err := readChunk(q, &memory.rows)
	if err != nil {
		return err
	}
	chunk.Ahead, chunk.Room = k.open, &memory.room
	u.next, err = k.batches.Put(k.ctx, q.GetBatchId(), chunk)
	return batchRefused(err)
}

// take waits for a turn of as many as the channel holds. It reports false if ctx ends before.
func take(ctx context.Context, turns chan<- struct{}) bool {
	select {
	case turns <- struct{}{}:
		return true
	case <-ctx.Done():
		return false
	}
}

func giveBack(turns <-chan struct{}) { <-turns }

// first is closed when the first chunk is kept that has not been confirmed.
func (k *keeper) first() <-chan struct{} {
	if len(k.kept) == 0 {
		return nil
	}
	return k.kept[0].done
}

// end waits for chunks that are being kept.
func (k *keeper) end() {
	k.running.Wait()
	k.ahead.Close()
}

// readChunk checks a chunk as far as it can be read by itself. Whether its rows follow
// those before it is checked at the start. The memory of c is used for it.
func readChunk(q *inventoryv1.UploadChunksRequest, c *treatmentv1.StemChunk) (*batch.Chunk, error) {
	data := q.GetStemChunk()
	if len(data) > maxChunkBytes {
		return nil, tooMany("stem_chunk", len(data), maxChunkBytes, "send fewer rows a chunk; the numbers are bytes")
	}
	var f faults
	f.batchID(q.GetBatchId())
	f.unless(q.GetIndex() >= 0 && q.GetIndex() < maxChunks, "index", "is %d: number the chunks from 0, to %d at most", q.GetIndex(), maxChunks-1)
	f.unless(q.Crc32C != nil, "crc32c", "is not stated: send that of stem_chunk, so that damage on the way is found")
	if sum := columnar.Checksum(data); q.Crc32C != nil && sum != q.GetCrc32C() {
		return nil, fail(codes.InvalidArgument, ChunkDamaged, nil, "the %d bytes of chunk %d have the CRC-32C %08x, not %08x as was sent with them: send the chunk again",
			len(data), q.GetIndex(), sum, q.GetCrc32C())
	}
	if err := columnar.DecodeIn(data, c); err != nil {
		f.add("stem_chunk", "is not a StemChunk: send one as it is serialised")
	}
	f.unless(c.GetFirstRow() >= 1 || len(f.list) > 0, "stem_chunk.first_row", "is %d: number the rows from 1", c.GetFirstRow())
	if err := f.err(); err != nil {
		return nil, err
	}
	if err := checkChunk(c); err != nil {
		return nil, err
	}
	return &batch.Chunk{Index: q.GetIndex(), FirstRow: c.GetFirstRow(), Rows: int64(columnar.Rows(c)), Data: data, Read: c}, nil
}
