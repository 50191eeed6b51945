package command_test

import (
	"bytes"
	"context"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"

	"example.org/rootward/client/command"
)

// changing is what differs from batch to batch: id, time, digests of what was built.
var changing = regexp.MustCompile(`[a-z2-7]{26}|\d{4}-\d\d-\d\d \d\d:\d\d UTC|[0-9a-f]{12,64}|version [\w-]{16,}`)

// idOf is the batch that a command has shown.
func idOf(t *testing.T, o outcome) string {
	t.Helper()
	require.Zero(t, o.code, o.stderr)
	id, _, found := strings.Cut(o.stdout, ":")
	require.True(t, found, o.stdout)
	return id
}

// The files and the summary of a batch are those of prescribe, byte for byte, and the
// site that is split over seasons is split in the same way.
func TestABatchIsWrittenAsPrescribeWritesIt(t *testing.T) {
	data := t.TempDir()
	submitted := rootward(t, "batch", "submit", demo, "--date", "2026-08-10", "--standing", "certified", "--title", "the demo", "--wait", "--data", data)
	id := idOf(t, submitted)
	golden(t, "batch.golden", changing.ReplaceAllString(submitted.stdout, "*"))

	folder := t.TempDir()
	files := func(name string) []string {
		return []string{"--out-csv", filepath.Join(folder, name+".csv"), "--out-geojson", filepath.Join(folder, name+".geojson"), "--sheet", filepath.Join(folder, name+".html")}
	}
	kept := rootward(t, append([]string{"batch", "results", id, demo, "--data", data}, files("batch")...)...)
	require.Zero(t, kept.code, kept.stderr)
	direct := rootward(t, append([]string{"prescribe", demo, "--date", "2026-08-10", "--standing", "certified"}, files("direct")...)...)
	require.Zero(t, direct.code, direct.stderr)
	assert.Equal(t, direct.stdout, strings.ReplaceAll(kept.stdout, filepath.Join(folder, "batch"), filepath.Join(folder, "direct")))
	contains(t, kept.stdout, "SPLIT over 2 seasons")
	for _, ending := range []string{".csv", ".geojson", ".html"} {
		want, err := os.ReadFile(filepath.Join(folder, "direct"+ending))
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join(folder, "batch"+ending))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(want, got), ending)
	}
}

// Each command is a server of its own on the same folder: what one did the next finds.
func TestABatchOutlivesItsServer(t *testing.T) {
	data := t.TempDir()
	on := func(args ...string) outcome {
		return rootward(t, append(append([]string{"batch"}, args...), "--data", data)...)
	}
	id := idOf(t, on("submit", demo, "--date", "2026-08-10", "--site", "mill-meadow", "--request-id", "6ba7b810-9dad-41d1-80b4-00c04fd430c8"))
	again := on("submit", demo, "--date", "2026-08-10", "--site", "mill-meadow", "--request-id", "6ba7b810-9dad-41d1-80b4-00c04fd430c8")
	assert.Equal(t, id, idOf(t, again), "the same submission is the same batch")
	differs := on("submit", demo, "--date", "2026-08-11", "--request-id", "6ba7b810-9dad-41d1-80b4-00c04fd430c8")
	assert.Equal(t, 1, differs.code)
	contains(t, differs.stderr, "REQUEST_DIFFERS")
	away := direct(t, "batch", "submit", demo, "--date", "2026-08-10", "--server", "unix:/nowhere")
	assert.Equal(t, 1, away.code)
	contains(t, away.stderr, "the same command with --request-id")

	finished := on("watch", id)
	assert.Equal(t, id, idOf(t, finished))
	contains(t, finished.stdout, "SUCCEEDED")
	contains(t, on("status", id).stdout, "SUCCEEDED", "results sha256")
	contains(t, on("list").stdout, id+": SUCCEEDED")
	contains(t, on("cancel", id).stdout, "SUCCEEDED")
	contains(t, on("results", id, demo, "--site", "mill-meadow").stdout, "PRESCRIPTION FOR 2026-08-10")
	whole := on("results", id, demo)
	assert.Equal(t, 1, whole.code)
	contains(t, whole.stderr, "with --site if it was submitted so")

	assert.Equal(t, id, idOf(t, on("retry", id)))
	contains(t, on("watch", id).stdout, "SUCCEEDED", "retried once")
	contains(t, on("delete", id).stdout, "is deleted")
	gone := on("status", id)
	assert.Equal(t, 1, gone.code)
	contains(t, gone.stderr, "UNKNOWN_BATCH")
	assert.Empty(t, on("list").stdout)
}

// Rows that cannot be read are told of when they are left out of a batch, and counted by
// its results as by prescribe.
func TestABatchTellsOfRowsThatCouldNotBeRead(t *testing.T) {
	data := t.TempDir()
	text, err := os.ReadFile(demo)
	require.NoError(t, err)
	lines := strings.SplitAfter(string(text), "\n")[:4] // the header, and three rows
	trees := filepath.Join(t.TempDir(), "trees.csv")
	require.NoError(t, os.WriteFile(trees, []byte(strings.Join(append(lines, lines[1]), "")), 0o600)) // an id comes twice
	got := rootward(t, "batch", "submit", trees, "--date", "2026-08-10", "--wait", "--data", data)
	id := idOf(t, got)
	flat := strings.Join(strings.Fields(got.stdout), " ")
	contains(t, flat, "3 rows uploaded, chunks: 1; rows that could not be read are not among them", "! rows that could not be read: 1. They were not uploaded")
	contains(t, rootward(t, "batch", "results", id, trees, "--data", data).stdout, "Rejected, so nothing is prescribed: 1 of 4 rows.")
}

// told is a server that tells of a batch how it stood, one after the other.
type told struct {
	inventoryv1.UnimplementedInventoryServiceServer
	stood []*inventoryv1.Batch
}

func (b *told) GetBatch(context.Context, *inventoryv1.GetBatchRequest) (*inventoryv1.GetBatchResponse, error) {
	return &inventoryv1.GetBatchResponse{Batch: b.stood[0]}, nil
}

func (b *told) WatchBatch(_ *inventoryv1.WatchBatchRequest, s grpc.ServerStreamingServer[inventoryv1.WatchBatchResponse]) error {
	for _, is := range b.stood {
		if err := s.Send(&inventoryv1.WatchBatchResponse{Batch: is}); err != nil {
			return err
		}
	}
	return nil
}

// serve gives the address of the server.
func (b *told) serve(t *testing.T) string { return serve(t, b) }

func serve(t *testing.T, b inventoryv1.InventoryServiceServer) string {
	t.Helper()
	socket := filepath.Join(shortFolder(t), "s")
	listener, err := net.Listen("unix", socket)
	require.NoError(t, err)
	server := grpc.NewServer()
	inventoryv1.RegisterInventoryServiceServer(server, b)
	var serving sync.WaitGroup
	serving.Go(func() { assert.NoError(t, server.Serve(listener)) })
	t.Cleanup(func() { server.Stop(); serving.Wait() })
	return "unix:" + socket
}

// Who waits for results learns by the exit code that there are none.
func TestWaitingForABatchWithoutResultsHasAnExitCodeOfItsOwn(t *testing.T) {
	cancelled := &told{stood: []*inventoryv1.Batch{{
		BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_CANCELLED, Done: true,
		Error: status.New(codes.Canceled, "the batch was cancelled").Proto(),
	}}}
	server := cancelled.serve(t)
	for word, code := range map[string]int{"watch": 4, "status": 0} {
		got := direct(t, "batch", word, "b", "--server", server)
		assert.Equal(t, code, got.code, word)
		contains(t, got.stdout, "b: CANCELLED", "the batch was cancelled")
		if code > 0 {
			contains(t, got.stderr, "batch b has ended without results: the batch was cancelled")
		}
	}
}

// Who waits for a retry that fails is told so, and that the results are of before it.
func TestWaitingForARetryThatFailsHasThatExitCodeToo(t *testing.T) {
	server := (&told{stood: []*inventoryv1.Batch{{
		BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_FAILED, Done: true, Revision: 1, ResultDigest: "ab",
		Error: status.New(codes.Internal, "boom").Proto(),
	}}}).serve(t)
	got := direct(t, "batch", "watch", "b", "--server", server)
	assert.Equal(t, 4, got.code)
	assert.Contains(t, got.stdout, "of before the retry")
	assert.Contains(t, got.stderr, "the retry of batch b has failed, and the results are of before it: boom")
}

// A retry that was cancelled leaves the results that were there before.
func TestWaitingForARetryThatIsCancelledEndsWithTheResultsOfBefore(t *testing.T) {
	server := (&told{stood: []*inventoryv1.Batch{{
		BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_CANCELLED, Done: true, Revision: 1, ResultDigest: "ab",
		Error: status.New(codes.Canceled, "the batch was cancelled").Proto(),
	}}}).serve(t)
	got := direct(t, "batch", "watch", "b", "--server", server)
	assert.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "b: CANCELLED", "retried once", "results sha256 ab, of before the retry", "the batch was cancelled")
	assert.Empty(t, got.stderr)
}

// What a batch waits for is shown, and while it is watched each change is told once, with what to do.
func TestABatchThatWaitsIsShown(t *testing.T) {
	waits := &inventoryv1.Batch{
		BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_RUNNING, Waiting: true, Hindrances: []*inventoryv1.Hindrance{{
			Server: "host, process 7", Problem: "it lacks the layer rivers", SinceTime: timestamppb.New(time.Date(2026, 8, 10, 6, 0, 0, 0, time.UTC)),
		}},
	}
	shared := proto.CloneOf(waits) // another server has been started
	shared.Waiting = false
	goesOn := &inventoryv1.Batch{BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_RUNNING}
	ended := &inventoryv1.Batch{BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_SUCCEEDED, Done: true, ResultDigest: "ab"}
	server := (&told{stood: []*inventoryv1.Batch{waits, waits, shared, shared, goesOn, ended}}).serve(t)
	status := direct(t, "batch", "status", "b", "--server", server)
	require.Zero(t, status.code, status.stderr)
	flat := strings.Join(strings.Fields(status.stdout), " ")
	contains(t, flat, "b: RUNNING, waiting, created", "! it waits: no server that is up can decide it",
		"It goes on by itself within seconds once one can; do for one of them what its line says, or cancel the batch",
		"! server host, process 7 cannot decide it since 2026-08-10 06:00 UTC: it lacks the layer rivers")
	watch := direct(t, "batch", "watch", "b", "--server", server)
	require.Zero(t, watch.code, watch.stderr)
	var lines []string
	for line := range strings.Lines(watch.stderr) {
		if says, ok := strings.CutPrefix(strings.TrimSpace(line), "rootward: batch b: "); ok {
			lines = append(lines, strings.FieldsFunc(says, func(r rune) bool { return r == ':' || r == ',' })[0])
		}
	}
	assert.Equal(t, []string{
		"it waits", "server host", "it goes on", "server host", "no server is known to be unable to decide it any more",
	}, lines, "each change once")
	contains(t, watch.stderr, "it goes on within seconds, and you need do nothing unless a line says so again")
	contains(t, watch.stdout, "b: SUCCEEDED")
	quiet := direct(t, "batch", "watch", "b", "--server", server, "--quiet")
	assert.Empty(t, quiet.stderr)
}

// Who watches a batch whose upload was cut off learns that it waits for its client.
func TestABatchThatIsBeingUploadedSaysSo(t *testing.T) {
	uploading := &inventoryv1.Batch{BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_UPLOADING, NextChunk: 3}
	more := proto.CloneOf(uploading)
	more.NextChunk = 4
	goesOn := &inventoryv1.Batch{BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_RUNNING}
	ended := &inventoryv1.Batch{BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_SUCCEEDED, Done: true, ResultDigest: "ab"}
	server := (&told{stood: []*inventoryv1.Batch{uploading, more, goesOn, ended}}).serve(t)
	const says = "it waits for the client that uploads it, which has not started it; chunks that are kept: 3. " +
		"If that command was cut off, give it again with the --request-id that it said at its beginning, or cancel the batch"
	contains(t, direct(t, "batch", "status", "b", "--server", server).stdout, "! "+says)
	watch := direct(t, "batch", "watch", "b", "--server", server)
	require.Zero(t, watch.code, watch.stderr)
	assert.Equal(t, "rootward: batch b: "+says+"\n", watch.stderr, "once")
	assert.Empty(t, direct(t, "batch", "watch", "b", "--server", server, "--quiet").stderr)
}

// receiving is a server that a batch is uploaded to, and that never has enough of it; nor does
// the batch get on.
type receiving struct {
	told
	create func()
	busy   chan struct{} // told when a call is on its way that does not end
}

func (r *receiving) CreateBatch(context.Context, *inventoryv1.CreateBatchRequest) (*inventoryv1.CreateBatchResponse, error) {
	r.create()
	return &inventoryv1.CreateBatchResponse{Batch: r.stood[0]}, nil
}

func (r *receiving) UploadChunks(s grpc.BidiStreamingServer[inventoryv1.UploadChunksRequest, inventoryv1.UploadChunksResponse]) error {
	r.busy <- struct{}{}
	<-s.Context().Done()
	return s.Context().Err()
}

func (r *receiving) WatchBatch(_ *inventoryv1.WatchBatchRequest, s grpc.ServerStreamingServer[inventoryv1.WatchBatchResponse]) error {
	r.busy <- struct{}{}
	<-s.Context().Done()
	return s.Context().Err()
}

// A submission says how it can be gone on with before it sends anything, and when it is interrupted.
func TestASubmissionSaysItsRequestIDFirst(t *testing.T) {
	says := filepath.Join(t.TempDir(), "stderr")
	stderr, err := os.Create(says)
	require.NoError(t, err)
	defer stderr.Close()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	r := &receiving{
		told: told{stood: []*inventoryv1.Batch{{BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_UPLOADING}}},
		busy: make(chan struct{}, 1),
	}
	said := make(chan string, 1)
	r.create = func() {
		text, err := os.ReadFile(says)
		assert.NoError(t, err)
		said <- string(text)
	}
	server := serve(t, r)
	go func() { <-r.busy; cancel() }()
	var stdout bytes.Buffer
	code := command.Run(ctx, []string{"batch", "submit", demo, "--date", "2026-08-10", "--server", server}, &stdout, stderr)
	assert.Equal(t, 1, code)
	assert.Empty(t, stdout.String())
	first := <-said
	assert.Regexp(t, `^rootward: the request id is ([0-9a-f-]{36}); if this command is cut off, the same command with --request-id ([0-9a-f-]{36}) goes on where it stopped\n$`, first)

	all, err := os.ReadFile(says)
	require.NoError(t, err)
	id := strings.Fields(first)[5]
	contains(t, string(all), "rootward: interrupted; what was uploaded is kept: the same command with --request-id "+strings.TrimSuffix(id, ";")+
		" goes on where it stopped, and batch cancel with the id that batch list shows gives it up")
	assert.NotContains(t, string(all), "nothing was written")
}

// Who stops waiting for a batch does not stop the batch.
func TestAnInterruptedWatchSaysThatTheBatchIsKept(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	r := &receiving{
		told: told{stood: []*inventoryv1.Batch{{BatchId: "b", State: inventoryv1.BatchState_BATCH_STATE_RUNNING}}},
		busy: make(chan struct{}, 1),
	}
	server := serve(t, r)
	go func() { <-r.busy; cancel() }()
	var stdout, stderr bytes.Buffer
	assert.Equal(t, 1, command.Run(ctx, []string{"batch", "watch", "b", "--server", server}, &stdout, &stderr))
	assert.Equal(t, "rootward: interrupted; batch b is kept: batch watch b waits for it once more, and batch cancel b gives it up\n", stderr.String())
}

func TestBatchesNeedAServerThatKeepsThem(t *testing.T) {
	got := rootward(t, "batch", "list")
	assert.Equal(t, 2, got.code)
	contains(t, got.stderr, "--server", "--data")
}
