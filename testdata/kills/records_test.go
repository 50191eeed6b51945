package kills_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules/recordlog"
	"example.org/rootward/server/store/postgrestest"
)

func TestKillsOfALogOnSQLite(t *testing.T) {
	proveLogs(t, func() []string { return []string{"--data", t.TempDir()} })
}

func TestKillsOfALogOnPostgres(t *testing.T) {
	cluster := postgrestest.Start(t)
	proveLogs(t, func() []string {
		return []string{"--database", cluster.Database(t), "--record-key", filepath.Join(t.TempDir(), "key")}
	})
}

// perLog is how often the servers of one log are killed: each reads all of it first.
const perLog = 50

func proveLogs(t *testing.T, store func() []string) {
	kills := asked(t).kills
	for done := 0; done < kills; done += perLog {
		proveLog(t, min(perLog, kills-done), uint64(done), store())
	}
}

// proveLog writes sites, and changes of them, while the server is killed at random
// moments. A call that was cut off is made again with the same request id.
func proveLog(t *testing.T, kills int, number uint64, store []string) {
	s := newServer(t, store...)
	defer s.kill()
	w := &writer{to: campaignv1.NewCampaignServiceClient(s.dial()), random: rand.New(rand.NewPCG(seed, 2*number+11))}
	key, err := w.to.GetLogKey(t.Context(), &campaignv1.GetLogKeyRequest{})
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	done := make(chan error, 1)
	go func() { done <- w.run(ctx) }()
	moments := rand.New(rand.NewPCG(seed, 2*number+12))
	for range kills {
		time.Sleep(time.Duration(moments.Int64N(int64(100 * time.Millisecond)))) // the moment is what is tried
		s.kill()
		require.NoError(t, s.start())
	}
	stop()
	require.NoError(t, <-done)
	w.check(t, key.GetKey().GetVerifier())
	t.Logf("%d kills: %d writes confirmed, of which %d were asked for again; %d checkpoints hold", kills, len(w.kept), w.repeated, len(w.checkpoints))
}

// writer writes until it is stopped, and notes what was confirmed.
type writer struct {
	to          campaignv1.CampaignServiceClient
	random      *rand.Rand
	kept        []*campaignv1.Site
	checkpoints []recordlog.Earlier
	repeated    int
}

func (w *writer) run(ctx context.Context) error {
	for n := 0; ctx.Err() == nil; n++ {
		id := fmt.Sprintf("s%d", n/3)
		request := fmt.Sprintf("%08x-0000-4000-8000-%012x", w.random.Uint32(), w.random.Uint64()>>16)
		site := &campaignv1.Site{Title: fmt.Sprint(n), Place: "us/velmora", TimeZone: "America/New_York", AreaM2: proto.Float64(500)}
		kept, err := w.again(ctx, func() (*campaignv1.Site, error) {
			if n%3 == 0 {
				r, err := w.to.CreateSite(ctx, &campaignv1.CreateSiteRequest{SiteId: id, Site: site, RequestId: request}, grpc.WaitForReady(true))
				return r.GetSite(), err
			}
			site.Name = "sites/" + id
			r, err := w.to.UpdateSite(ctx, &campaignv1.UpdateSiteRequest{Site: site, RequestId: request}, grpc.WaitForReady(true))
			return r.GetSite(), err
		})
		if err != nil {
			if ctx.Err() != nil {
				return nil // it was stopped
			}
			return err
		}
		if kept.GetVersion() != int64(n%3+1) {
			return fmt.Errorf("write %d became version %d of %s", n, kept.GetVersion(), kept.GetName())
		}
		w.kept = append(w.kept, kept)
		if n%5 == 0 {
			w.checkpoint(ctx)
		}
	}
	return nil
}

// again calls until the server is there to answer.
func (w *writer) again(ctx context.Context, call func() (*campaignv1.Site, error)) (*campaignv1.Site, error) {
	for {
		kept, err := call()
		if status.Code(err) != codes.Unavailable || ctx.Err() != nil {
			return kept, err
		}
		w.repeated++
	}
}

// checkpoint notes one, unless the server is killed meanwhile.
func (w *writer) checkpoint(ctx context.Context) {
	stream, err := w.to.ExportLog(ctx, &campaignv1.ExportLogRequest{First: int64(len(w.kept))})
	if err != nil {
		return
	}
	if part, err := stream.Recv(); err == nil {
		w.checkpoints = append(w.checkpoints, recordlog.Earlier{Name: fmt.Sprintf("after %d writes", len(w.kept)), Signed: part.GetCheckpoint()})
	}
	for err == nil { // to its end, so that nothing is left of it
		_, err = stream.Recv()
	}
}

// check holds the log to all that was confirmed.
func (w *writer) check(t *testing.T, verifier string) {
	require.NotEmpty(t, w.kept)
	stream, err := w.to.ExportLog(t.Context(), &campaignv1.ExportLogRequest{}, grpc.WaitForReady(true))
	require.NoError(t, err)
	archive := fstest.MapFS{}
	var lines [][]byte
	for {
		part, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		if c := part.GetCheckpoint(); c != nil {
			archive[recordlog.CheckpointFile] = &fstest.MapFile{Data: c}
			continue
		}
		lines = append(lines, append(part.GetEntry(), '\n'))
	}
	archive[recordlog.EntriesFile] = &fstest.MapFile{Data: bytes.Join(lines, nil)}
	key, err := recordlog.ParseVerifier(verifier)
	require.NoError(t, err)
	report, err := recordlog.Verify(archive, recordlog.Check{Verifier: key, Earlier: w.checkpoints})
	require.NoError(t, err)
	assert.Empty(t, report.Faults)
	// One writer: the last call may have been done and not answered.
	assert.InDelta(t, len(w.kept), report.Entries, 1, "nothing is there twice")
	for i, kept := range w.kept {
		e, err := recordlog.ParseLine(bytes.TrimSuffix(lines[i], []byte("\n")))
		require.NoError(t, err)
		require.Equal(t, kept.GetName(), e.Name)
		require.Equal(t, kept.GetVersion(), e.Version)
		got, err := w.to.GetSite(t.Context(), &campaignv1.GetSiteRequest{Name: kept.GetName(), Version: kept.GetVersion()})
		require.NoError(t, err)
		require.True(t, proto.Equal(kept, got.GetSite()), "confirmed as %v, and there is %v", kept, got.GetSite())
	}
}
