package api_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/server/batch"
)

const aUUID = "6BA7B810-9DAD-41d1-80B4-00C04FD430C8"

// fakeBatches keeps one batch. Every method fails with err, if there is one.
type fakeBatches struct {
	err     error
	batch   batch.Batch
	mu      sync.Mutex // of chunks
	chunks  []*batch.Chunk
	results []*batch.Result
	asked   string // of List
}

func (f *fakeBatches) got() (*batch.Batch, error) {
	if f.err != nil {
		return nil, f.err
	}
	b := f.batch
	return &b, nil
}

func (f *fakeBatches) Create(_ context.Context, requestID, title string, request []byte) (*batch.Batch, error) {
	if f.batch.RequestID != requestID {
		f.batch = batch.Batch{ID: "a", RequestID: requestID, Title: title, State: batch.Uploading, Request: request, Created: time.Unix(5, 0)}
	}
	return f.got()
}

func (f *fakeBatches) Ahead(context.Context, string) *batch.Ahead { return nil }

func (f *fakeBatches) Put(_ context.Context, id string, c *batch.Chunk) (int64, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.chunks = append(f.chunks, c)
	return int64(len(f.chunks)), f.err
}

func (f *fakeBatches) Start(context.Context, string, int64, int64) (*batch.Batch, error) {
	return f.got()
}
func (f *fakeBatches) Get(context.Context, string) (*batch.Batch, error)    { return f.got() }
func (f *fakeBatches) Cancel(context.Context, string) (*batch.Batch, error) { return f.got() }
func (f *fakeBatches) Retry(context.Context, string) (*batch.Batch, error)  { return f.got() }
func (f *fakeBatches) Delete(context.Context, string) error                 { return f.err }

func (f *fakeBatches) List(_ context.Context, size int, token string) ([]*batch.Batch, string, error) {
	f.asked = fmt.Sprint(size, " ", token)
	b, err := f.got()
	return []*batch.Batch{b}, "next", err
}

func (f *fakeBatches) Watch(context.Context, string) iter.Seq2[*batch.Batch, error] {
	return func(yield func(*batch.Batch, error) bool) { yield(f.got()) }
}

func (f *fakeBatches) Results(_ context.Context, _ string, after int64) iter.Seq2[*batch.Result, error] {
	return func(yield func(*batch.Result, error) bool) {
		if f.err != nil {
			yield(nil, f.err)
			return
		}
		for _, r := range f.results {
			if r.Index > after && !yield(r, nil) {
				return
			}
		}
	}
}

func serveBatches(t *testing.T, b api.Batches) inventoryv1.InventoryServiceClient {
	law := fullLaw(t)
	return serveAll(t, api.Services{Current: func() api.Law { return law }, Batches: b}).batches
}

func goodBegin() *treatmentv1.StreamBegin {
	return &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}
}

// calls is every call that names a batch.
func calls(t *testing.T, c inventoryv1.InventoryServiceClient, id string) map[string]error {
	errs := map[string]error{}
	_, errs["GetBatch"] = c.GetBatch(t.Context(), &inventoryv1.GetBatchRequest{BatchId: id})
	_, errs["StartBatch"] = c.StartBatch(t.Context(), &inventoryv1.StartBatchRequest{BatchId: id, Chunks: 1, Rows: 1})
	_, errs["CancelBatch"] = c.CancelBatch(t.Context(), &inventoryv1.CancelBatchRequest{BatchId: id})
	_, errs["DeleteBatch"] = c.DeleteBatch(t.Context(), &inventoryv1.DeleteBatchRequest{BatchId: id})
	_, errs["RetryUndetermined"] = c.RetryUndetermined(t.Context(), &inventoryv1.RetryUndeterminedRequest{BatchId: id})
	watch, err := c.WatchBatch(t.Context(), &inventoryv1.WatchBatchRequest{BatchId: id})
	require.NoError(t, err)
	_, errs["WatchBatch"] = watch.Recv()
	_, errs["ListResults"] = results(t, c, &inventoryv1.ListResultsRequest{BatchId: id})
	_, errs["UploadChunks"] = uploaded(t, c, uploadOf(id, 0, goodChunk(t)))
	return errs
}

func results(t *testing.T, c inventoryv1.InventoryServiceClient, q *inventoryv1.ListResultsRequest) ([]*inventoryv1.ListResultsResponse, error) {
	s, err := c.ListResults(t.Context(), q)
	require.NoError(t, err)
	var list []*inventoryv1.ListResultsResponse
	for {
		r, err := s.Recv()
		if errors.Is(err, io.EOF) {
			return list, nil
		}
		if err != nil {
			return list, err
		}
		list = append(list, r)
	}
}

func goodChunk(t *testing.T) []byte {
	return bytesOf(t, chunkOf(1, goodSite().SiteId, newDraw(1).stems(3)))
}

func uploadOf(id string, index int64, data []byte) *inventoryv1.UploadChunksRequest {
	return &inventoryv1.UploadChunksRequest{BatchId: id, Index: index, StemChunk: data, Crc32C: new(columnar.Checksum(data))}
}

func uploaded(t *testing.T, c inventoryv1.InventoryServiceClient, messages ...*inventoryv1.UploadChunksRequest) ([]*inventoryv1.UploadChunksResponse, error) {
	s, err := c.UploadChunks(t.Context())
	require.NoError(t, err)
	for _, m := range messages {
		if s.Send(m) != nil {
			break // the error is what Recv gives
		}
	}
	_ = s.CloseSend() // the same holds here
	var acks []*inventoryv1.UploadChunksResponse
	for {
		a, err := s.Recv()
		if errors.Is(err, io.EOF) {
			return acks, nil
		}
		if err != nil {
			return acks, err
		}
		acks = append(acks, a)
	}
}

func TestAServerWithoutAStoreSaysHowToGiveItOne(t *testing.T) {
	c := serveBatches(t, nil)
	errs := calls(t, c, "a")
	_, errs["CreateBatch"] = c.CreateBatch(t.Context(), &inventoryv1.CreateBatchRequest{RequestId: aUUID, Begin: goodBegin()})
	_, errs["ListBatches"] = c.ListBatches(t.Context(), &inventoryv1.ListBatchesRequest{})
	for name, err := range errs {
		requireStatus(t, err, codes.Unimplemented, api.NoBatches, name)
		assert.ErrorContains(t, err, "--data DIR")
	}
}

func TestABatchIsCreatedOnceARequestID(t *testing.T) {
	c := serveBatches(t, &fakeBatches{})
	q := &inventoryv1.CreateBatchRequest{RequestId: aUUID, Title: "spring", Begin: goodBegin()}
	for _, id := range []string{aUUID, strings.ToLower(aUUID)} {
		q.RequestId = id
		r, err := c.CreateBatch(t.Context(), q)
		require.NoError(t, err)
		assert.Equal(t, "a", r.Batch.BatchId)
		assert.Equal(t, "spring", r.Batch.Title)
		assert.Equal(t, inventoryv1.BatchState_BATCH_STATE_UPLOADING, r.Batch.State)
		assert.Equal(t, int64(5), r.Batch.CreateTime.AsTime().Unix())
		assert.Nil(t, r.Batch.EndTime)
	}
	q.Begin.Sites[0].AreaM2 = ptr(7.0)
	_, err := c.CreateBatch(t.Context(), q)
	requireStatus(t, err, codes.AlreadyExists, api.RequestDiffers, "another inventory under the same id")

	got, err := c.GetBatch(t.Context(), &inventoryv1.GetBatchRequest{BatchId: "a"})
	require.NoError(t, err)
	requireSame(t, goodBegin(), got.Begin)
}

func TestAllFaultsOfACreationAreListed(t *testing.T) {
	c := serveBatches(t, &fakeBatches{})
	begin := goodBegin()
	begin.Date, begin.Sites[0].SiteId, begin.TrialDigests = nil, "", []string{"no digest"}
	_, err := c.CreateBatch(t.Context(), &inventoryv1.CreateBatchRequest{RequestId: "1", Title: strings.Repeat("x", 201), Begin: begin})
	requireViolations(t, err, "begin.date", "begin.sites[0].site_id", "begin.trial_digests[0]", "request_id", "title")
	_, err = c.CreateBatch(t.Context(), &inventoryv1.CreateBatchRequest{RequestId: aUUID, Title: "\x00"})
	requireViolations(t, err, "begin", "title")
}

// lateBatches keeps chunk 0 after the one that follows it.
type lateBatches struct {
	fakeBatches
	second chan struct{} // closed when it is kept
}

func (l *lateBatches) Put(ctx context.Context, id string, c *batch.Chunk) (int64, error) {
	switch c.Index {
	case 0:
		<-l.second
		return 2, nil
	case 1:
		defer close(l.second)
		return 0, nil
	}
	return 0, refusal(batch.NotUploading)
}

// Chunks that are kept side by side are confirmed in the order in which they came, up to
// the first that is not.
func TestUploadsAreConfirmedInOrder(t *testing.T) {
	c := serveBatches(t, &lateBatches{second: make(chan struct{})})
	acks, err := uploaded(t, c, uploadOf("a", 0, goodChunk(t)), uploadOf("a", 1, goodChunk(t)), uploadOf("a", 2, goodChunk(t)))
	requireStatus(t, err, codes.FailedPrecondition, batch.NotUploading, "the third")
	require.Len(t, acks, 2)
	requireSame(t, &inventoryv1.UploadChunksResponse{Index: 0, NextChunk: 2}, acks[0])
	requireSame(t, &inventoryv1.UploadChunksResponse{Index: 1, NextChunk: 2}, acks[1])
}

// busyBatches counts how many chunks it is given at once, and keeps none until so many as
// are due are there.
type busyBatches struct {
	fakeBatches
	now, most, all atomic.Int64
	due            int64
	full           chan struct{}
	once           sync.Once
}

func (b *busyBatches) Put(context.Context, string, *batch.Chunk) (int64, error) {
	now := b.now.Add(1)
	defer b.now.Add(-1)
	for most := b.most.Load(); now > most && !b.most.CompareAndSwap(most, now); most = b.most.Load() {
	}
	if now == b.due {
		b.once.Do(func() { close(b.full) })
	}
	<-b.full
	for range 100 {
		runtime.Gosched() // others would come in
	}
	return b.all.Add(1), nil
}

// However many chunks wait, few are read and kept at once: four of an upload, eight of all.
func TestFewChunksAreKeptAtOnce(t *testing.T) {
	for uploads, most := range map[int]int64{1: 4, 12: 8} {
		fake := &busyBatches{due: most, full: make(chan struct{})}
		c := serveBatches(t, fake)
		var all sync.WaitGroup
		for i := range uploads {
			all.Go(func() {
				var list []*inventoryv1.UploadChunksRequest
				for k := range int64(20) {
					list = append(list, uploadOf(fmt.Sprint("batch", i), k, goodChunk(t)))
				}
				acks, err := uploaded(t, c, list...)
				assert.NoError(t, err)
				assert.Len(t, acks, 20)
			})
		}
		all.Wait()
		assert.EqualValues(t, uploads*20, fake.all.Load())
		assert.Equal(t, most, fake.most.Load())
	}
}

func TestAChunkIsCheckedBeforeItIsKept(t *testing.T) {
	fake := &fakeBatches{}
	c := serveBatches(t, fake)
	acks, err := uploaded(t, c, uploadOf("a", 0, goodChunk(t)), uploadOf("a", 1, goodChunk(t)))
	require.NoError(t, err)
	require.Len(t, acks, 2)
	assert.Equal(t, int64(1), acks[1].Index)
	assert.Equal(t, int64(2), acks[1].NextChunk)
	require.Len(t, fake.chunks, 2)
	assert.Equal(t, goodChunk(t), fake.chunks[0].Data)
	assert.Equal(t, int64(3), fake.chunks[0].Rows)
	assert.Equal(t, int64(1), fake.chunks[0].FirstRow)

	unstated := uploadOf("", -1, goodChunk(t))
	unstated.Crc32C = nil
	short := chunkOf(1, "s", newDraw(1).stems(3))
	short.Form = short.Form[:2]
	for name, k := range map[string]struct {
		message *inventoryv1.UploadChunksRequest
		fields  []string
	}{
		"unstated":       {unstated, []string{"batch_id", "crc32c", "index"}},
		"not a chunk":    {uploadOf("a", 2, []byte{1, 2, 3}), []string{"stem_chunk"}},
		"no row number":  {uploadOf("a", 2, bytesOf(t, chunkOf(0, "s", newDraw(1).stems(1)))), []string{"stem_chunk.first_row"}},
		"a short column": {uploadOf("a", 2, bytesOf(t, short)), []string{"chunk.form"}},
		"empty":          {uploadOf("a", 2, bytesOf(t, &treatmentv1.StemChunk{FirstRow: 1})), []string{"chunk.stem_id_ends"}},
		"far out":        {uploadOf("a", 1<<24, goodChunk(t)), []string{"index"}},
	} {
		_, err := uploaded(t, c, k.message)
		requireViolations(t, err, k.fields...)
		require.Len(t, fake.chunks, 2, name)
	}
	for bit := range 8 * 4 { // one in every third byte
		damaged := uploadOf("a", 2, goodChunk(t))
		damaged.StemChunk[3*bit] ^= 1 << (bit % 8)
		_, err = uploaded(t, c, damaged)
		requireStatus(t, err, codes.InvalidArgument, api.ChunkDamaged, "a bit is not as it was sent")
	}
	_, err = uploaded(t, c, uploadOf("a", 2, make([]byte, 8<<20+1)))
	requireStatus(t, err, codes.ResourceExhausted, api.TooMany, "more than 8 MiB")
	_, err = uploaded(t, c, uploadOf("a", 2, goodChunk(t)), uploadOf("b", 0, goodChunk(t)))
	requireStatus(t, err, codes.FailedPrecondition, api.StreamOrder, "two batches in one stream")
}

func TestEachCallNamesABatchAndAStartItsNumbers(t *testing.T) {
	c := serveBatches(t, &fakeBatches{})
	for name, err := range calls(t, c, "") {
		requireViolations(t, err, "batch_id")
		assert.ErrorContains(t, err, "CreateBatch", name)
	}
	for _, err := range calls(t, c, "a\x00") { // PostgreSQL does not take it
		requireViolations(t, err, "batch_id")
	}
	_, err := c.StartBatch(t.Context(), &inventoryv1.StartBatchRequest{})
	requireViolations(t, err, "batch_id", "chunks", "rows")
}

// Each word of a refusal has its code.
func TestRefusals(t *testing.T) {
	for word, code := range map[string]codes.Code{
		batch.UnknownBatch: codes.NotFound, batch.ChunkDiffers: codes.AlreadyExists,
		batch.UnknownPage: codes.InvalidArgument, batch.ResultsReplaced: codes.Aborted, batch.Stopping: codes.Unavailable,
		batch.NotUploading: codes.FailedPrecondition, batch.NotEnded: codes.FailedPrecondition, batch.NoResults: codes.FailedPrecondition,
		batch.ChunksMissing: codes.FailedPrecondition, batch.RowsMissing: codes.FailedPrecondition,
	} {
		for name, err := range calls(t, serveBatches(t, &fakeBatches{err: refusal(word)}), "a") {
			requireStatus(t, err, code, api.Reason(word), name)
		}
	}
	for name, err := range calls(t, serveBatches(t, &fakeBatches{err: errors.New("disk full at /secret")}), "a") {
		requireStatus(t, err, codes.Internal, api.InternalFault, name)
		assert.NotContains(t, err.Error(), "secret")
	}
}

func TestPages(t *testing.T) {
	fake := &fakeBatches{batch: batch.Batch{ID: "a"}}
	c := serveBatches(t, fake)
	r, err := c.ListBatches(t.Context(), &inventoryv1.ListBatchesRequest{})
	require.NoError(t, err)
	assert.Equal(t, "100 ", fake.asked)
	assert.Equal(t, "next", r.NextPageToken)
	require.Len(t, r.Batches, 1)
	_, err = c.ListBatches(t.Context(), &inventoryv1.ListBatchesRequest{PageSize: 7, PageToken: "next"})
	require.NoError(t, err)
	assert.Equal(t, "7 next", fake.asked)
	for _, size := range []int32{-1, 1_001} {
		_, err = c.ListBatches(t.Context(), &inventoryv1.ListBatchesRequest{PageSize: size, PageToken: strings.Repeat("x", 2_000)})
		requireViolations(t, err, "page_size", "page_token")
	}
}

func TestResultsGoOnFromACursorAndCanBeFiltered(t *testing.T) {
	fake := &fakeBatches{batch: batch.Batch{ID: "a", State: batch.Succeeded}}
	for i := range 4 {
		r := &batch.Result{
			Index: int64(i), Revision: 1, Data: bytesOf(t, &treatmentv1.StemChunk{FirstRow: int64(i) + 1}),
			Answer: bytesOf(t, &treatmentv1.PrescriptionChunk{FirstRow: int64(i) + 1}),
		}
		*[]*int64{&r.Counts.Prescribed, &r.Counts.Deferred, &r.Counts.Undetermined, &r.Counts.Rejected}[i] = 1
		fake.results = append(fake.results, r)
	}
	c := serveBatches(t, fake)
	all, err := results(t, c, &inventoryv1.ListResultsRequest{BatchId: "a"})
	require.NoError(t, err)
	require.Len(t, all, 4)
	for i, r := range all {
		assert.Equal(t, int64(i), r.Index)
		assert.Equal(t, int64(i)+1, r.Stems.FirstRow)
		assert.Equal(t, int64(i)+1, r.Prescriptions.FirstRow)
		rest, err := results(t, c, &inventoryv1.ListResultsRequest{BatchId: "a", Cursor: r.Cursor})
		require.NoError(t, err)
		assert.Len(t, rest, 3-i)
		only, err := results(t, c, &inventoryv1.ListResultsRequest{BatchId: "a", Outcomes: []treatmentv1.Outcome{treatmentv1.Outcome(i + 1)}})
		require.NoError(t, err)
		require.Len(t, only, 1)
		assert.Equal(t, int64(i), only[0].Index)
	}
	_, err = results(t, c, &inventoryv1.ListResultsRequest{BatchId: "a", Cursor: "x", Outcomes: []treatmentv1.Outcome{0, 1, 9}})
	requireViolations(t, err, "cursor", "outcomes[0]", "outcomes[2]")
	for _, r := range fake.results {
		r.Revision = 2
	}
	_, err = results(t, c, &inventoryv1.ListResultsRequest{BatchId: "a", Cursor: all[0].Cursor})
	requireStatus(t, err, codes.Aborted, api.ChangedMeanwhile, "a cursor from before a retry")
}

// What keeps servers from deciding a batch is told of it.
func TestABatchTellsWhatItWaitsFor(t *testing.T) {
	since := time.Date(2026, 8, 10, 6, 0, 0, 0, time.UTC)
	c := serveBatches(t, &fakeBatches{batch: batch.Batch{ID: "a", State: batch.Running, Waiting: true,
		Hindrances: []batch.Hindrance{{Server: "id", Name: "host, process 7", Problem: "it lacks a layer", Since: since}}}})
	got, err := c.GetBatch(t.Context(), &inventoryv1.GetBatchRequest{BatchId: "a"})
	require.NoError(t, err)
	assert.True(t, got.Batch.Waiting)
	require.Len(t, got.Batch.Hindrances, 1)
	requireSame(t, &inventoryv1.Hindrance{Server: "host, process 7", Problem: "it lacks a layer", SinceTime: timestamppb.New(since)}, got.Batch.Hindrances[0])
}

// A batch is told as a long-running operation is: done, then an error or results.
func TestHowABatchStands(t *testing.T) {
	summary := &treatmentv1.Summary{Totals: &treatmentv1.Totals{Rows: 3}}
	pinned := &inventoryv1.PinnedLaw{Tables: []*inventoryv1.PinnedTable{{}}, Version: "v"}
	for _, k := range []struct {
		state batch.State
		done  bool
		code  codes.Code
	}{
		{batch.Uploading, false, 0}, {batch.Running, false, 0}, {batch.Succeeded, true, 0},
		{batch.Cancelled, true, codes.Canceled}, {batch.Failed, true, codes.FailedPrecondition},
	} {
		fake := &fakeBatches{batch: batch.Batch{
			ID: "a", State: k.state, Problem: "why it failed", Summary: bytesOf(t, summary), Pinned: bytesOf(t, pinned),
			NextChunk: 2, Chunks: 2, Rows: 3, Decided: 3, Passes: 1, ResultDigest: "d", Counts: batch.Counts{Prescribed: 1, Deferred: 2},
		}}
		s, err := serveBatches(t, fake).WatchBatch(t.Context(), &inventoryv1.WatchBatchRequest{BatchId: "a"})
		require.NoError(t, err)
		r, err := s.Recv()
		require.NoError(t, err)
		b := r.Batch
		assert.Equal(t, int32(k.state), int32(b.State))
		assert.Equal(t, k.done, b.Done)
		assert.Equal(t, int32(k.code), b.Error.GetCode())
		if k.state == batch.Failed {
			assert.Equal(t, "why it failed", b.Error.Message)
		}
		requireSame(t, summary, b.Summary)
		requireSame(t, &treatmentv1.Totals{Rows: 3, Prescribed: 1, Deferred: 2}, b.Totals)
		assert.Len(t, b.RuleSets, 1)
		assert.Equal(t, []string{"d", "v"}, []string{b.ResultDigest, b.Version})
		_, err = s.Recv()
		require.ErrorIs(t, err, io.EOF)
	}
}
