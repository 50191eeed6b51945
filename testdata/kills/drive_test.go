package kills_test

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/testdata/many"
)

// seed of the inventory and of the moments of the kills.
const seed = 4

// inventory is rows as they are uploaded.
type inventory struct {
	rows   int64
	chunks [][]byte
}

func newInventory(t *testing.T, rows int64, chunkRows int) *inventory {
	in := &inventory{rows: rows}
	for c := range many.Chunks(seed, rows, chunkRows) {
		data, err := proto.MarshalOptions{Deterministic: true}.Marshal(c)
		require.NoError(t, err)
		in.chunks = append(in.chunks, data)
	}
	return in
}

// beginOf makes every third site so small that an annual maximum splits it over seasons,
// for which a second pass is due.
func beginOf(rows int64) *treatmentv1.StreamBegin {
	begin := many.Begin(rows)
	for i, site := range begin.GetSites() {
		if i%3 == 0 && site.AreaM2 != nil {
			*site.AreaM2 /= 1_000
		}
	}
	return begin
}

// driver brings a batch to its end, whatever becomes of the server meanwhile.
type driver struct {
	*inventory
	to    inventoryv1.InventoryServiceClient
	id    string
	state atomic.Int32 // inventoryv1.BatchState
	// How long it took, and of that from the start on.
	took, decided time.Duration
}

// run creates a batch and gives it when it has ended.
func (d *driver) run(ctx context.Context) (*inventoryv1.Batch, error) {
	random := rand.New(rand.NewPCG(rand.Uint64(), 1))
	request := &inventoryv1.CreateBatchRequest{RequestId: fmt.Sprintf("%08x-0000-4000-8000-%012x", random.Uint32(), random.Uint64()>>16), Begin: beginOf(d.rows)}
	began := time.Now()
	var started time.Time
	for {
		made, err := d.to.CreateBatch(ctx, request, grpc.WaitForReady(true))
		b := made.GetBatch()
		if err == nil {
			d.id = b.GetBatchId()
			d.state.Store(int32(b.GetState()))
			if b.GetState() != inventoryv1.BatchState_BATCH_STATE_UPLOADING && started.IsZero() {
				started = time.Now()
			}
			switch {
			case b.GetDone():
				d.took, d.decided = time.Since(began), time.Since(started)
				return b, nil
			case b.GetState() == inventoryv1.BatchState_BATCH_STATE_UPLOADING:
				err = d.upload(ctx, b.GetNextChunk())
			default:
				err = d.watch(ctx)
			}
		}
		// A server that was killed is away; any other error is one.
		if err != nil && status.Code(err) != codes.Unavailable {
			return nil, err
		}
	}
}

// upload sends the chunks from the first that is not kept, and starts the batch.
func (d *driver) upload(ctx context.Context, next int64) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	s, err := d.to.UploadChunks(ctx)
	if err != nil {
		return err
	}
	go func() {
		for i := next; i < int64(len(d.chunks)); i++ {
			if s.Send(&inventoryv1.UploadChunksRequest{BatchId: d.id, Index: i, StemChunk: d.chunks[i], Crc32C: new(columnar.Checksum(d.chunks[i]))}) != nil {
				return // what ended the stream comes out below
			}
		}
		_ = s.CloseSend() // the same holds here
	}()
	for {
		if _, err := s.Recv(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return err
		}
	}
	_, err = d.to.StartBatch(ctx, &inventoryv1.StartBatchRequest{BatchId: d.id, Chunks: int64(len(d.chunks)), Rows: d.rows})
	return err
}

func (d *driver) watch(ctx context.Context) error {
	s, err := d.to.WatchBatch(ctx, &inventoryv1.WatchBatchRequest{BatchId: d.id})
	if err != nil {
		return err
	}
	for {
		if _, err := s.Recv(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// outcome is what a finished batch says.
type outcome struct {
	digest  string // the server's
	answers string // SHA-256 over the answers as they are given
	summary []byte
	passes  int32
}

// outcomeOf reads all results, and makes sure that each chunk is there once.
func (d *driver) outcomeOf(t *testing.T, b *inventoryv1.Batch) outcome {
	t.Helper()
	require.Equal(t, inventoryv1.BatchState_BATCH_STATE_SUCCEEDED, b.GetState(), b.GetError().GetMessage())
	require.Equal(t, d.rows, b.GetRows())
	require.Equal(t, d.rows, b.GetTotals().GetRows())
	require.Equal(t, d.rows*int64(b.GetPasses()), b.GetRowsDecided(), "each row is counted once a pass")
	require.EqualValues(t, len(d.chunks), b.GetChunks())
	s, err := d.to.ListResults(t.Context(), &inventoryv1.ListResultsRequest{BatchId: d.id})
	require.NoError(t, err)
	sum, row := sha256.New(), int64(1)
	for i := range d.chunks {
		r, err := s.Recv()
		require.NoError(t, err)
		require.EqualValues(t, i, r.GetIndex(), "no chunk twice, none missing")
		require.Equal(t, row, r.GetPrescriptions().GetFirstRow())
		require.Len(t, r.GetPrescriptions().GetOutcome(), columnar.Rows(r.GetStems()))
		stems, err := proto.MarshalOptions{Deterministic: true}.Marshal(r.GetStems())
		require.NoError(t, err)
		require.Equal(t, sha256.Sum256(d.chunks[i]), sha256.Sum256(stems), "the rows are those that were uploaded")
		answer, err := proto.MarshalOptions{Deterministic: true}.Marshal(r.GetPrescriptions())
		require.NoError(t, err)
		sum.Write(answer)
		row += int64(columnar.Rows(r.GetStems()))
	}
	_, err = s.Recv()
	require.ErrorIs(t, err, io.EOF)
	require.Equal(t, d.rows, row-1)
	summary, err := proto.MarshalOptions{Deterministic: true}.Marshal(b.GetSummary())
	require.NoError(t, err)
	return outcome{b.GetResultDigest(), fmt.Sprintf("%x", sum.Sum(nil)), summary, b.GetPasses()}
}
