package client_test

import (
	"context"
	"errors"
	"io"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
)

// keeper keeps one batch, whose rows are answered as clienttest.Server answers them. It
// is away now and then: a call in away fails once for each time it is named there.
type keeper struct {
	inventoryv1.UnimplementedInventoryServiceServer
	clienttest.Server
	mu     sync.Mutex
	away   map[string]int
	stays  int // calls of GetBatch that fail after WatchBatch has
	batch  *inventoryv1.Batch
	begin  *treatmentv1.StreamBegin
	chunks [][]byte
	sent   int // chunks that came, kept or not
}

func (k *keeper) register(to *grpc.Server) {
	k.Server.Register(to)
	inventoryv1.RegisterInventoryServiceServer(to, k)
}

func (k *keeper) isAway(call string) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.away[call] == 0 {
		return nil
	}
	k.away[call]--
	return status.Error(codes.Unavailable, "away")
}

func (k *keeper) CreateBatch(_ context.Context, q *inventoryv1.CreateBatchRequest) (*inventoryv1.CreateBatchResponse, error) {
	if k.batch == nil {
		k.batch = &inventoryv1.Batch{BatchId: "b", Title: q.GetTitle(), State: inventoryv1.BatchState_BATCH_STATE_UPLOADING}
		k.begin = q.GetBegin()
	}
	return &inventoryv1.CreateBatchResponse{Batch: k.batch}, nil
}

func (k *keeper) GetBatch(context.Context, *inventoryv1.GetBatchRequest) (*inventoryv1.GetBatchResponse, error) {
	if err := k.isAway("GetBatch"); err != nil {
		return nil, err
	}
	return &inventoryv1.GetBatchResponse{Batch: k.batch, Begin: k.begin}, nil
}

func (k *keeper) UploadChunks(s grpc.BidiStreamingServer[inventoryv1.UploadChunksRequest, inventoryv1.UploadChunksResponse]) error {
	for {
		q, err := s.Recv()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		k.sent++
		if err := k.isAway("UploadChunks"); err != nil {
			return err
		}
		if q.GetIndex() != int64(len(k.chunks)) || columnar.Checksum(q.GetStemChunk()) != q.GetCrc32C() {
			return status.Errorf(codes.InvalidArgument, "chunk %d came where %d was due, or damaged", q.GetIndex(), len(k.chunks))
		}
		k.chunks = append(k.chunks, q.GetStemChunk())
		k.batch.NextChunk++
		if err := s.Send(&inventoryv1.UploadChunksResponse{Index: q.GetIndex(), NextChunk: k.batch.GetNextChunk()}); err != nil {
			return err
		}
	}
}

func (k *keeper) StartBatch(_ context.Context, q *inventoryv1.StartBatchRequest) (*inventoryv1.StartBatchResponse, error) {
	if err := k.isAway("StartBatch"); err != nil {
		return nil, err
	}
	if q.GetChunks() != int64(len(k.chunks)) {
		return nil, status.Error(codes.FailedPrecondition, "chunks are missing")
	}
	k.batch.State, k.batch.Rows = inventoryv1.BatchState_BATCH_STATE_RUNNING, q.GetRows()
	return &inventoryv1.StartBatchResponse{Batch: k.batch}, nil
}

func (k *keeper) WatchBatch(_ *inventoryv1.WatchBatchRequest, s grpc.ServerStreamingServer[inventoryv1.WatchBatchResponse]) error {
	if err := s.Send(&inventoryv1.WatchBatchResponse{Batch: k.batch}); err != nil {
		return err
	}
	if err := k.isAway("WatchBatch"); err != nil {
		k.mu.Lock()
		k.away["GetBatch"] = k.stays
		k.mu.Unlock()
		return err
	}
	k.batch = proto.CloneOf(k.batch)
	k.batch.State, k.batch.Done, k.batch.ResultDigest = inventoryv1.BatchState_BATCH_STATE_SUCCEEDED, true, "of the start"
	totals := &treatmentv1.Totals{}
	for _, data := range k.chunks {
		stems := &treatmentv1.StemChunk{}
		if err := proto.Unmarshal(data, stems); err != nil {
			return err
		}
		k.AnswerChunk(k.begin, stems, totals)
	}
	k.batch.Summary = k.SummaryOf(k.begin, totals)
	return s.Send(&inventoryv1.WatchBatchResponse{Batch: k.batch})
}

func (k *keeper) ListResults(q *inventoryv1.ListResultsRequest, s grpc.ServerStreamingServer[inventoryv1.ListResultsResponse]) error {
	for i := len(q.GetCursor()); i < len(k.chunks); i++ {
		if err := k.isAway("ListResults"); err != nil {
			return err
		}
		stems := &treatmentv1.StemChunk{}
		if err := proto.Unmarshal(k.chunks[i], stems); err != nil {
			return err
		}
		answer := k.AnswerChunk(k.begin, stems, &treatmentv1.Totals{})
		if err := s.Send(&inventoryv1.ListResultsResponse{
			Index: int64(i), Stems: stems, Prescriptions: answer, Cursor: strings.Repeat("x", i+1),
		}); err != nil {
			return err
		}
	}
	return nil
}

// everything submits a file, waits for the batch and gives the rows of its results.
func everything(t *testing.T, k *keeper, path string) ([]*client.Row, *client.Result) {
	t.Helper()
	c := clienttest.Connect(t, k.register)
	b, err := c.Submit(t.Context(), path, client.Options{Date: clienttest.Date}, client.NewRequestID(), "spring")
	require.NoError(t, err)
	assert.Equal(t, "spring", b.GetTitle())
	b, err = c.Watch(t.Context(), b.GetBatchId(), func(*inventoryv1.Batch) {})
	require.NoError(t, err)
	assert.True(t, b.GetDone())
	rows := &sink{}
	result, made, err := c.Results(t.Context(), path, b.GetBatchId(), client.Options{}, func() (client.Sink, error) { return rows, nil })
	require.NoError(t, err)
	assert.Equal(t, clienttest.Date, made.Date)
	return rows.rows, result
}

// A batch gives what Prescribe gives, row for row, though the server is away several
// times on the way.
func TestABatchGivesWhatPrescribeGives(t *testing.T) {
	path := many(t, 20_000)
	want, wantResult, err := prescribe(t, &clienttest.Server{}, path, client.Options{})
	require.NoError(t, err)
	for name, away := range map[string]map[string]int{
		"always there": {},
		"away":         {"UploadChunks": 3, "StartBatch": 1, "WatchBatch": 2, "ListResults": 3},
	} {
		t.Run(name, func(t *testing.T) {
			k := &keeper{away: away}
			rows, result := everything(t, k, path)
			assert.Greater(t, len(k.chunks), 1, "the file has several chunks")
			requireSameRows(t, want, rows)
			assert.True(t, proto.Equal(wantResult.Totals, result.Totals))
			assert.True(t, proto.Equal(wantResult.Summary, result.Summary))
			assert.Len(t, result.Sites, len(wantResult.Sites))
		})
	}
}

func requireSameRows(t *testing.T, want, got []*client.Row) {
	t.Helper()
	require.Len(t, got, len(want))
	for i := range want {
		require.Equal(t, want[i].Outcome, got[i].Outcome)
		require.Equal(t, want[i].Record.Line, got[i].Record.Line)
		require.True(t, proto.Equal(want[i].Dose, got[i].Dose))
		require.Equal(t, want[i].Faults, got[i].Faults)
	}
}

// A client that was cut off goes on at the first chunk that is not kept.
func TestASubmissionGoesOnWhereItStopped(t *testing.T) {
	path := many(t, 20_000)
	k := &keeper{away: map[string]int{"UploadChunks": 100}}
	c := clienttest.Connect(t, k.register)
	submit := func() error {
		_, err := c.Submit(t.Context(), path, client.Options{Date: clienttest.Date}, client.NewRequestID(), "")
		return err
	}
	require.Equal(t, codes.Unavailable, status.Code(submit()), "it gives up where it gets no further")
	assert.Empty(t, k.chunks)
	k.mu.Lock()
	k.away["UploadChunks"] = 0
	k.mu.Unlock()
	require.NoError(t, submit())
	whole := len(k.chunks)

	k.batch.State, k.batch.NextChunk, k.chunks, k.sent = inventoryv1.BatchState_BATCH_STATE_UPLOADING, 1, k.chunks[:1], 0
	require.NoError(t, submit())
	assert.Len(t, k.chunks, whole)
	assert.Equal(t, whole-1, k.sent, "what is kept is not sent again")
	k.sent = 0
	require.NoError(t, submit(), "it was started before")
	assert.Zero(t, k.sent)
}

// A server that was killed answers nothing for a while, also on a connection that seems
// to be there.
func TestAWatchOutlivesAServerThatComesBackLate(t *testing.T) {
	k := &keeper{away: map[string]int{"WatchBatch": 1}, stays: 3}
	c := clienttest.Connect(t, k.register)
	b, err := c.Submit(t.Context(), many(t, 5), client.Options{Date: clienttest.Date}, client.NewRequestID(), "")
	require.NoError(t, err)
	b, err = c.Watch(t.Context(), b.GetBatchId(), func(*inventoryv1.Batch) {})
	require.NoError(t, err)
	assert.Equal(t, inventoryv1.BatchState_BATCH_STATE_SUCCEEDED, b.GetState())
}

func TestResultsAreForTheFileThatWasSubmitted(t *testing.T) {
	k := &keeper{}
	everything(t, k, many(t, 20_000))
	c := clienttest.Connect(t, k.register)
	for name, path := range map[string]string{
		"fewer rows": many(t, 5_000), "more rows": many(t, 40_000), "other rows": file(t, clienttest.Inventory),
	} {
		_, _, err := c.Results(t.Context(), path, "b", client.Options{}, func() (client.Sink, error) { return &sink{}, nil })
		require.ErrorContains(t, err, "does not hold the rows that batch b was made of", name)
	}
	k.batch.State, k.batch.ResultDigest = inventoryv1.BatchState_BATCH_STATE_RUNNING, ""
	_, _, err := c.Results(t.Context(), many(t, 20_000), "b", client.Options{}, func() (client.Sink, error) { return &sink{}, nil })
	require.ErrorContains(t, err, "has not succeeded")
}

// The results of before a retry are served while it runs, and after it has ended without others.
func TestResultsOutliveARetry(t *testing.T) {
	k := &keeper{}
	path := many(t, 20_000)
	want, _ := everything(t, k, path)
	c := clienttest.Connect(t, k.register)
	for _, state := range []inventoryv1.BatchState{
		inventoryv1.BatchState_BATCH_STATE_RUNNING, inventoryv1.BatchState_BATCH_STATE_CANCELLED, inventoryv1.BatchState_BATCH_STATE_FAILED,
	} {
		k.batch = proto.CloneOf(k.batch)
		k.batch.State = state
		got := &sink{}
		_, _, err := c.Results(t.Context(), path, "b", client.Options{}, func() (client.Sink, error) { return got, nil })
		require.NoError(t, err, state)
		requireSameRows(t, want, got.rows)
	}
}

// A retry that succeeds while results are read must not bring the summary of the one
// decision together with rows of the other.
func TestResultsThatARetryReplacesAreNotTrusted(t *testing.T) {
	k := &keeper{}
	path := many(t, 20_000)
	everything(t, k, path)
	c := clienttest.Connect(t, k.register)
	_, _, err := c.Results(t.Context(), path, "b", client.Options{}, func() (client.Sink, error) {
		k.batch = proto.CloneOf(k.batch)
		k.batch.ResultDigest = "of the retry"
		return &sink{}, nil
	})
	require.ErrorContains(t, err, "batch b was decided once more while its results were read")
}

func TestAFileWithoutARowIsNoBatch(t *testing.T) {
	k := &keeper{}
	_, err := clienttest.Connect(t, k.register).Submit(t.Context(), file(t, "occurrenceID,scientificName,locationID,place,site_area_ac,form,dbh_in\n"), client.Options{Date: clienttest.Date}, client.NewRequestID(), "")
	require.ErrorContains(t, err, "no row that can be read")
	assert.Nil(t, k.batch)
}

func TestRequestIDsAreUUIDs(t *testing.T) {
	first, second := client.NewRequestID(), client.NewRequestID()
	assert.Regexp(t, `^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`, first)
	assert.NotEqual(t, first, second)
}
