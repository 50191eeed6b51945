package app_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/app"
)

// started uploads and starts a batch of some chunks of a row each.
func started(t *testing.T, c inventoryv1.InventoryServiceClient, chunks int) *inventoryv1.Batch {
	t.Helper()
	one := prescribeOne()
	made, err := c.CreateBatch(t.Context(), &inventoryv1.CreateBatchRequest{
		RequestId: "6ba7b810-9dad-41d1-80b4-00c04fd430c8", Begin: &treatmentv1.StreamBegin{Date: one.Date, Sites: []*treatmentv1.Site{one.Site}},
	})
	require.NoError(t, err)
	s, err := c.UploadChunks(t.Context())
	require.NoError(t, err)
	for i := range chunks {
		data, err := proto.Marshal(oneRow(int64(i) + 1).GetChunk())
		require.NoError(t, err)
		require.NoError(t, s.Send(&inventoryv1.UploadChunksRequest{BatchId: made.Batch.BatchId, Index: int64(i), StemChunk: data, Crc32C: new(columnar.Checksum(data))}))
		_, err = s.Recv()
		require.NoError(t, err)
	}
	require.NoError(t, s.CloseSend())
	_, err = s.Recv()
	require.ErrorIs(t, err, io.EOF)
	r, err := c.StartBatch(t.Context(), &inventoryv1.StartBatchRequest{BatchId: made.Batch.BatchId, Chunks: int64(chunks), Rows: int64(chunks)})
	require.NoError(t, err)
	return r.Batch
}

// watched gives the last that is told of a batch, and what ended the telling.
func watched(t *testing.T, c inventoryv1.InventoryServiceClient, id string, first func()) (*inventoryv1.Batch, error) {
	s, err := c.WatchBatch(t.Context(), &inventoryv1.WatchBatchRequest{BatchId: id})
	require.NoError(t, err)
	var last *inventoryv1.Batch
	for {
		r, err := s.Recv()
		if errors.Is(err, io.EOF) {
			return last, nil
		}
		if err != nil {
			return last, err
		}
		if last == nil {
			first()
		}
		last = r.Batch
	}
}

// A server that is told to stop lets go of who watches, and the next one goes on.
func TestABatchGoesOnAfterTheServerHasStopped(t *testing.T) {
	data, path := t.TempDir(), socket(t)
	flags := []string{"--listen=unix:" + path, "--rules=" + ruleFolder, "--data=" + data, "--drain-time=1m"}
	p := start(t, nil, flags...)
	c := inventoryv1.NewInventoryServiceClient(p.dial(t, nil))
	b := started(t, c, 40)
	last, err := watched(t, c, b.BatchId, p.stop)
	if err != nil { // none if the batch was faster than the stop
		assert.Equal(t, codes.Unavailable, status.Code(err), "%v", err)
		assert.False(t, last.GetDone())
	}
	assert.Zero(t, p.ended(t))

	p = start(t, nil, flags...)
	last, err = watched(t, inventoryv1.NewInventoryServiceClient(p.dial(t, nil)), b.BatchId, func() {})
	require.NoError(t, err)
	assert.Equal(t, inventoryv1.BatchState_BATCH_STATE_SUCCEEDED, last.State)
	assert.Equal(t, int64(40), last.Totals.Rows)
	program, err := os.Executable()
	require.NoError(t, err)
	assert.Equal(t, app.Version(zerolog.Nop(), program), last.Version)
	p.stop()
	assert.Zero(t, p.ended(t))
	assert.NotContains(t, p.log.String(), "Ailanthus", "the log holds nothing of the rows")
}

// A batch whose water layers are gone says so, and goes on when they are loaded again.
func TestABatchWhoseWaterIsGoneWaitsAndSaysSo(t *testing.T) {
	dir, layer := t.TempDir(), ""
	put := func(text string) {
		layer = filepath.Join(dir, "wells.geojson")
		require.NoError(t, os.WriteFile(layer, []byte(text), 0o600))
	}
	put(aWell)
	p := start(t, nil, "--listen=unix:"+socket(t), "--rules="+ruleFolder, "--data="+t.TempDir(), "--water="+dir)
	c := inventoryv1.NewInventoryServiceClient(p.dial(t, nil))
	id := started(t, c, 3).BatchId
	decided, err := watched(t, c, id, func() {})
	require.NoError(t, err)
	require.Len(t, decided.WaterLayers, 1)

	load := func(text string) {
		put(text)
		said := strings.Count(p.log.String(), "loaded the water layers")
		require.NoError(t, syscall.Kill(os.Getpid(), syscall.SIGHUP))
		require.Eventually(t, func() bool { return strings.Count(p.log.String(), "loaded the water layers") > said }, time.Minute, 10*time.Millisecond)
	}
	load(strings.Replace(aWell, "43]", "43.5]", 1))
	_, err = c.RetryUndetermined(t.Context(), &inventoryv1.RetryUndeterminedRequest{BatchId: id})
	require.NoError(t, err)
	var waits *inventoryv1.Batch
	s, err := c.WatchBatch(t.Context(), &inventoryv1.WatchBatchRequest{BatchId: id})
	require.NoError(t, err)
	for !waits.GetWaiting() {
		r, err := s.Recv()
		require.NoError(t, err)
		waits = r.Batch
	}
	assert.Equal(t, inventoryv1.BatchState_BATCH_STATE_RUNNING, waits.State)
	require.Len(t, waits.Hindrances, 1)
	assert.Contains(t, waits.Hindrances[0].Server, fmt.Sprintf("process %d", os.Getpid()))
	for _, says := range []string{"wells (" + decided.WaterLayers[0].Digest, "--water", "cancel the batch"} {
		assert.Contains(t, waits.Hindrances[0].Problem, says)
	}
	load(aWell)
	again, err := watched(t, c, id, func() {})
	require.NoError(t, err)
	assert.Equal(t, inventoryv1.BatchState_BATCH_STATE_SUCCEEDED, again.State)
	assert.Empty(t, again.Hindrances)
	assert.Equal(t, decided.ResultDigest, again.ResultDigest)
	p.stop()
	assert.Zero(t, p.ended(t))
}

// What is wrong with the store is told with its flag, and without its password.
func TestAStoreThatCannotBeOpened(t *testing.T) {
	data := t.TempDir()
	p := start(t, nil, "--listen=unix:"+socket(t), "--rules="+ruleFolder, "--data="+data)
	for name, k := range map[string]struct {
		env, args []string
		code      int
		says      string
	}{
		"two places":           {nil, []string{"--data=x", "--database=postgres:///y"}, 2, "give one of them"},
		"a folder in use":      {nil, []string{"--data=" + data}, 1, "--data " + data},
		"a database not there": {[]string{"ROOTWARD_DATABASE=postgres://us:hush@/db?host=/nowhere"}, nil, 1, "--database postgres://us:xxxxx@/db"},
		"a parameter":          {nil, []string{"--database=postgres://us@/db?host=/nowhere&password=hush"}, 1, "--database postgres://us@/db: "},
		"pairs":                {nil, []string{"--database=host=/nowhere password=hush"}, 1, "--database: "},
		"not a URL":            {nil, []string{"--database=postgres://us:hush%zz@/db"}, 1, "--database"},
	} {
		t.Run(name, func(t *testing.T) {
			var said bytes.Buffer
			env := append([]string{"ROOTWARD_UNSIGNED=all", "ROOTWARD_UNCONFINED=all"}, k.env...)
			args := append([]string{"--listen=unix:" + socket(t), "--rules=" + ruleFolder}, k.args...)
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			assert.Equal(t, k.code, app.Run(ctx, args, env, bytes.NewReader(nil), io.Discard, &said))
			assert.Contains(t, said.String(), k.says)
			assert.NotContains(t, said.String(), "hush")
		})
	}
	p.stop()
	assert.Zero(t, p.ended(t))
}
