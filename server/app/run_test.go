package app_test

import (
	"context"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	reflectionv1 "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

func healthOf(t *testing.T, conn *grpc.ClientConn, service string) healthv1.HealthCheckResponse_ServingStatus {
	t.Helper()
	r, err := healthv1.NewHealthClient(conn).Check(t.Context(), &healthv1.HealthCheckRequest{Service: service})
	require.NoError(t, err)
	return r.Status
}

func TestServesWithRealRuleSets(t *testing.T) {
	p := start(t, nil, "--listen=unix:"+socket(t), "--rules="+ruleFolder)
	conn := p.dial(t, nil)
	for _, service := range []string{"", "rootward.treatment.v1.TreatmentService", "rootward.ruleset.v1.RuleSetService"} {
		assert.Equal(t, healthv1.HealthCheckResponse_SERVING, healthOf(t, conn, service), service)
	}
	sets, err := rulesetv1.NewRuleSetServiceClient(conn).ListRuleSets(t.Context(), &rulesetv1.ListRuleSetsRequest{})
	require.NoError(t, err)
	var ids []string
	for _, s := range sets.RuleSets {
		ids = append(ids, s.Ref.RuleSetId)
	}
	assert.Equal(t, []string{"federal", "velmora", "ossel-creek"}, ids)
	assert.Empty(t, sets.NotLoaded)

	r, err := treatmentv1.NewTreatmentServiceClient(conn).Prescribe(t.Context(), prescribeOne())
	require.NoError(t, err)
	assert.NotEqual(t, treatmentv1.Outcome_OUTCOME_REJECTED, r.Prescriptions[0].Outcome)
	assert.Len(t, r.Explanations[r.Prescriptions[0].GetExplanation()].RuleSets, 3)

	p.stop()
	assert.Zero(t, p.ended(t))
	assert.NotContains(t, p.log.String(), "Ailanthus", "the log holds nothing of the rows")
	assert.Contains(t, p.log.String(), `"method":"/rootward.treatment.v1.TreatmentService/Prescribe","code":"OK"`)
}

func prescribeOne() *treatmentv1.PrescribeRequest {
	area, diameter := 10_000.0, 6.0
	return &treatmentv1.PrescribeRequest{
		Date: &date.Date{Year: 2026, Month: 8, Day: 1},
		Site: &treatmentv1.Site{SiteId: "bank", Place: "us/velmora/ossel-creek", AreaM2: &area},
		Stems: []*treatmentv1.Stem{{
			StemId: "1", ScientificName: "Ailanthus altissima", Form: commonv1.GrowthForm_GROWTH_FORM_SAPLING, DiameterCm: &diameter,
		}},
	}
}

func TestReflectionListsTheServices(t *testing.T) {
	p := start(t, nil, "--listen=127.0.0.1:0", "--rules="+ruleFolder)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	stream, err := reflectionv1.NewServerReflectionClient(p.dial(t, nil)).ServerReflectionInfo(ctx)
	require.NoError(t, err)
	require.NoError(t, stream.Send(&reflectionv1.ServerReflectionRequest{MessageRequest: &reflectionv1.ServerReflectionRequest_ListServices{}}))
	r, err := stream.Recv()
	require.NoError(t, err)
	var names []string
	for _, s := range r.GetListServicesResponse().Service {
		names = append(names, s.Name)
	}
	assert.Subset(t, names, []string{"rootward.treatment.v1.TreatmentService", "rootward.ruleset.v1.RuleSetService", "grpc.health.v1.Health"})
	cancel()
}

// begun opens a stream that keeps the server from stopping.
func begun(t *testing.T, conn *grpc.ClientConn) grpc.BidiStreamingClient[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse] {
	t.Helper()
	stream, err := treatmentv1.NewTreatmentServiceClient(conn).PrescribeStream(t.Context())
	require.NoError(t, err)
	one := prescribeOne()
	require.NoError(t, stream.Send(&treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Begin{
		Begin: &treatmentv1.StreamBegin{Date: one.Date, Sites: []*treatmentv1.Site{one.Site}},
	}}))
	require.NoError(t, stream.Send(oneRow(1)))
	_, err = stream.Recv()
	require.NoError(t, err)
	return stream
}

func oneRow(number int64) *treatmentv1.PrescribeStreamRequest {
	return &treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: &treatmentv1.StemChunk{
		FirstRow: number, Words: []string{"bank", "Ailanthus altissima"}, StemIds: "1", StemIdEnds: []uint32{1}, Site: []int32{0}, Species: []int32{1},
		Form: []byte{byte(commonv1.GrowthForm_GROWTH_FORM_SAPLING)}, DiameterUm: []int64{60_000},
	}}}
}

// A signal lets a call that is under way go on, and no new one begin.
func TestDrainsOnASignal(t *testing.T) {
	path := socket(t)
	p := start(t, nil, "--listen=unix:"+path, "--rules="+ruleFolder, "--drain-time=1m")
	conn := p.dial(t, nil)
	watching, unwatch := context.WithCancel(t.Context())
	defer unwatch()
	watch, err := healthv1.NewHealthClient(conn).Watch(watching, &healthv1.HealthCheckRequest{})
	require.NoError(t, err)
	first, err := watch.Recv()
	require.NoError(t, err)
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, first.Status)
	stream := begun(t, conn)

	require.NoError(t, syscall.Kill(os.Getpid(), syscall.SIGTERM))
	then, err := watch.Recv()
	require.NoError(t, err)
	assert.Equal(t, healthv1.HealthCheckResponse_NOT_SERVING, then.Status)
	unwatch()

	require.NoError(t, stream.Send(oneRow(2)))
	_, err = stream.Recv()
	require.NoError(t, err)
	require.NoError(t, stream.CloseSend())
	last, err := stream.Recv()
	require.NoError(t, err)
	assert.Equal(t, int64(2), last.GetSummary().Totals.Rows)
	assert.Zero(t, p.ended(t))
	_, err = os.Lstat(path)
	assert.ErrorIs(t, err, os.ErrNotExist, "the socket is gone")
}

func TestCutsOffWhatOutlastsTheDrainTime(t *testing.T) {
	p := start(t, nil, "--listen=unix:"+socket(t), "--rules="+ruleFolder, "--drain-time=20ms")
	stream := begun(t, p.dial(t, nil))
	p.stop()
	_, err := stream.Recv()
	assert.Equal(t, codes.Unavailable, status.Code(err), "%v", err)
	assert.Zero(t, p.ended(t))
}

func TestStopsWhenStandardInputCloses(t *testing.T) {
	p := start(t, nil, "--listen=unix:"+socket(t), "--rules="+ruleFolder, "--until-stdin-closes")
	require.NoError(t, p.stdin.Close())
	assert.Zero(t, p.ended(t))
}

func TestTakesFlagsFromTheEnvironment(t *testing.T) {
	p := start(t, []string{"ROOTWARD_LISTEN=127.0.0.1:0", "ROOTWARD_RULES=" + ruleFolder, "ROOTWARD_LOG_LEVEL=error"})
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, healthOf(t, p.dial(t, nil), ""))
	p.stop()
	assert.Zero(t, p.ended(t))
	assert.Empty(t, p.log.String())
}

// A plugin that does not load leaves its places undecided; the server serves.
func TestServesWithoutAPluginThatDoesNotLoad(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "broken"), []byte("#!/bin/sh\nexit 1\n"), 0o700))
	p := start(t, nil, "--listen=unix:"+socket(t), "--rules="+folder)
	conn := p.dial(t, nil)
	sets, err := rulesetv1.NewRuleSetServiceClient(conn).ListRuleSets(t.Context(), &rulesetv1.ListRuleSetsRequest{})
	require.NoError(t, err)
	require.Len(t, sets.NotLoaded, 1)
	assert.Contains(t, sets.NotLoaded[0].Where, "broken")
	r, err := treatmentv1.NewTreatmentServiceClient(conn).Prescribe(t.Context(), prescribeOne())
	require.NoError(t, err)
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_UNDETERMINED, r.Prescriptions[0].Outcome)
}

func TestSaysWhyItDoesNotStart(t *testing.T) {
	missing := filepath.Join(t.TempDir(), "nothing")
	broken := filepath.Join(t.TempDir(), "broken.yaml")
	require.NoError(t, os.WriteFile(broken, []byte("species: 7\n"), 0o600))
	for name, tc := range map[string]struct {
		args []string
		code int
		says []string
	}{
		"an unknown flag":       {[]string{"--nope"}, 2, []string{"--nope", "--help"}},
		"no rules flag":         {nil, 2, []string{"--rules"}},
		"a wrong level":         {[]string{"--rules=x", "--log-level=loud"}, 2, []string{"--log-level"}},
		"half of TLS":           {[]string{"--rules=x", "--tls-cert=c.pem"}, 2, []string{"--tls-cert", "--tls-key"}},
		"no folder of rules":    {[]string{"--listen=127.0.0.1:0", "--rules=" + missing}, 1, []string{"--rules", missing}},
		"no such catalogue":     {[]string{"--rules=" + ruleFolder, "--formulations=" + missing}, 1, []string{"--formulations", missing}},
		"a broken catalogue":    {[]string{"--rules=" + ruleFolder, "--formulations=" + broken}, 1, []string{"--formulations", broken}},
		"no such certificate":   {[]string{"--rules=" + ruleFolder, "--tls-cert=" + missing, "--tls-key=" + missing}, 1, []string{missing}},
		"no address":            {[]string{"--rules=" + ruleFolder, "--listen=here"}, 1, []string{`"here"`, "unix:PATH"}},
		"open to all":           {[]string{"--rules=" + ruleFolder, "--listen=:0"}, 1, []string{"TLS", "--tls-cert"}},
		"open to the network":   {[]string{"--rules=" + ruleFolder, "--listen=192.0.2.1:0"}, 1, []string{"TLS", "127.0.0.1"}},
		"a name of the network": {[]string{"--rules=" + ruleFolder, "--listen=server.example:0"}, 1, []string{"TLS"}},
	} {
		t.Run(name, func(t *testing.T) {
			code, says := fails(t, tc.args...)
			assert.Equal(t, tc.code, code)
			for _, want := range tc.says {
				assert.Contains(t, says, want)
			}
		})
	}
}

// One variable of the environment suffices to run what nobody has signed.
func TestUnsignedRuleSetsAreSpokenOf(t *testing.T) {
	p := start(t, []string{"ROOTWARD_UNSIGNED=nothing-there"}, "--listen=unix:"+socket(t), "--rules="+ruleFolder)
	p.stop()
	assert.Zero(t, p.ended(t))
	assert.Contains(t, p.log.String(), `"level":"warn","unsigned":["nothing-there"]`)
}
