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
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
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

// proveLog writes sites and records of use, and changes of both, while the server is
// killed at random moments. A call that was cut off is made again with the same request id.
func proveLog(t *testing.T, kills int, number uint64, store []string) {
	s := newServer(t, store...)
	defer s.kill()
	w := &writer{to: campaignv1.NewCampaignServiceClient(s.dial()), random: rand.New(rand.NewPCG(seed, 2*number+11))}
	key, err := w.to.GetLogKey(t.Context(), &campaignv1.GetLogKeyRequest{})
	require.NoError(t, err)
	w.prepare(t)
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
	kept        []kept
	plan        *campaignv1.Plan
	checkpoints []recordlog.Earlier
	repeated    int
}

// kept is something that was confirmed.
type kept interface {
	proto.Message
	GetName() string
	GetVersion() int64
}

func (w *writer) request() string {
	return fmt.Sprintf("%08x-0000-4000-8000-%012x", w.random.Uint32(), w.random.Uint64()>>16)
}

func site(title string) *campaignv1.Site {
	return &campaignv1.Site{Title: title, Place: "us/velmora", TimeZone: "America/New_York", AreaM2: proto.Float64(50_000)}
}

// prepare makes a site with a stem and a plan that treats it: without one there is no
// record.
func (w *writer) prepare(t *testing.T) {
	ground, err := w.to.CreateSite(t.Context(), &campaignv1.CreateSiteRequest{SiteId: "ground", Site: site("ground"), RequestId: w.request()})
	require.NoError(t, err)
	const farWest = -5 * time.Hour // of the site's clock: a survey of its tomorrow has no rows yet
	today := time.Now().UTC().Add(farWest)
	day := &date.Date{Year: int32(today.Year()), Month: int32(today.Month()), Day: int32(today.Day())}
	stem := &treatmentv1.Stem{
		StemId: "tree", ScientificName: "Ailanthus altissima", Form: commonv1.GrowthForm_GROWTH_FORM_TREE, DiameterCm: proto.Float64(25), HeightM: proto.Float64(14),
		Desirable: commonv1.Desirable_DESIRABLE_NONE, LandUse: commonv1.LandUse_LAND_USE_FOREST, Soil: commonv1.SoilState_SOIL_STATE_MOIST,
		Bark: commonv1.BarkState_BARK_STATE_DRY, OtherWaterBeyondM: proto.Float64(400),
	}
	survey, err := w.to.CreateSurvey(t.Context(), &campaignv1.CreateSurveyRequest{Parent: "sites/ground", SurveyId: "first", RequestId: w.request(), Survey: &campaignv1.Survey{Date: day, Stems: []*treatmentv1.Stem{stem}}})
	require.NoError(t, err)
	plan, err := w.to.CreatePlan(t.Context(), &campaignv1.CreatePlanRequest{PlanId: "next", RequestId: w.request(), Plan: &campaignv1.Plan{
		From: day, Sites: []string{"sites/ground"}, Crews: []*campaignv1.Crew{{CrewId: "one", People: 2, HoursPerDay: 8}},
		Settings: &treatmentv1.Settings{Standing: commonv1.Standing_STANDING_CERTIFIED},
	}})
	require.NoError(t, err)
	w.plan = plan.GetPlan()
	require.NotEmpty(t, w.plan.GetJobs(), "%v", w.plan.GetMisfits())
	w.kept = append(w.kept, ground.GetSite(), survey.GetSurvey(), w.plan)
}

func (w *writer) run(ctx context.Context) error {
	for n := 0; ctx.Err() == nil; n++ {
		write := w.site(ctx, n/2)
		if n%2 == 1 {
			write = w.record(ctx, n/2)
		}
		kept, err := w.again(ctx, write)
		if err != nil {
			if ctx.Err() != nil {
				return nil // it was stopped
			}
			return err
		}
		if kept.GetVersion() != int64(n/2%3+1) {
			return fmt.Errorf("write %d became version %d of %s", n, kept.GetVersion(), kept.GetName())
		}
		w.kept = append(w.kept, kept)
		if n%5 == 0 {
			w.checkpoint(ctx)
		}
	}
	return nil
}

// site writes a new site, and two changes of it.
func (w *writer) site(ctx context.Context, n int) func() (kept, error) {
	id, request, s := fmt.Sprintf("s%d", n/3), w.request(), site(fmt.Sprint(n))
	return func() (kept, error) {
		if n%3 == 0 {
			r, err := w.to.CreateSite(ctx, &campaignv1.CreateSiteRequest{SiteId: id, Site: s, RequestId: request}, grpc.WaitForReady(true))
			return r.GetSite(), err
		}
		s.Name = "sites/" + id
		r, err := w.to.UpdateSite(ctx, &campaignv1.UpdateSiteRequest{Site: s, RequestId: request}, grpc.WaitForReady(true))
		return r.GetSite(), err
	}
}

// record writes a new record of the plan's first job, and two corrections of it.
func (w *writer) record(ctx context.Context, n int) func() (kept, error) {
	id, request, job := fmt.Sprintf("r%d", n/3), w.request(), w.plan.GetJobs()[0]
	done := time.Now().Add(-time.Hour)
	p := &campaignv1.Record{
		Plan: w.plan.GetName(), JobId: job.GetJobId(), StartTime: timestamppb.New(done), EndTime: timestamppb.New(done.Add(time.Minute)),
		ProductMl: proto.Float64(1 + float64(n)), MixL: proto.Float64(1), Notes: fmt.Sprint(n),
	}
	return func() (kept, error) {
		if n%3 == 0 {
			r, err := w.to.CreateRecord(ctx, &campaignv1.CreateRecordRequest{Parent: "sites/ground", RecordId: id, Record: p, RequestId: request}, grpc.WaitForReady(true))
			return r.GetRecord(), err
		}
		p.Name, p.Correction = "sites/ground/records/"+id, "another number"
		r, err := w.to.UpdateRecord(ctx, &campaignv1.UpdateRecordRequest{Record: p, RequestId: request}, grpc.WaitForReady(true))
		return r.GetRecord(), err
	}
}

// again calls until the server is there to answer.
func (w *writer) again(ctx context.Context, call func() (kept, error)) (kept, error) {
	for {
		kept, err := call()
		if status.Code(err) != codes.Unavailable || ctx.Err() != nil {
			return kept, err
		}
		w.repeated++
	}
}

// read gives what is kept under a name in a version.
func (w *writer) read(ctx context.Context, k kept) (kept, error) {
	switch k.(type) {
	case *campaignv1.Site:
		r, err := w.to.GetSite(ctx, &campaignv1.GetSiteRequest{Name: k.GetName(), Version: k.GetVersion()})
		return r.GetSite(), err
	case *campaignv1.Survey:
		r, err := w.to.GetSurvey(ctx, &campaignv1.GetSurveyRequest{Name: k.GetName(), Version: k.GetVersion()})
		return r.GetSurvey(), err
	case *campaignv1.Plan:
		r, err := w.to.GetPlan(ctx, &campaignv1.GetPlanRequest{Name: k.GetName(), Version: k.GetVersion()})
		return r.GetPlan(), err
	}
	r, err := w.to.GetRecord(ctx, &campaignv1.GetRecordRequest{Name: k.GetName(), Version: k.GetVersion()})
	return r.GetRecord(), err
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
		if part.GetTable() != nil {
			continue // judging again needs no server, and is tried elsewhere
		}
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
		got, err := w.read(t.Context(), kept)
		require.NoError(t, err)
		require.True(t, proto.Equal(kept, got), "confirmed as %v, and there is %v", kept, got)
	}
}
