package app_test

import (
	"context"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/server/app"
	"example.org/rootward/server/catalogue"
	"example.org/rootward/server/rulehost"
)

// twoEditions is a host whose folder holds two editions of the state's rules; the
// older one is active. It gives their digests.
func twoEditions(t *testing.T) (host *rulehost.Host, old, draft string) {
	t.Helper()
	dir := t.TempDir()
	for _, name := range []string{"federal", "velmora"} {
		require.NoError(t, os.Link(filepath.Join(ruleFolder, name), filepath.Join(dir, name)))
	}
	host = rulehost.New(rulehost.Config{Unsigned: []string{"all"}, Unconfined: []string{"all"}, AllowChanges: true})
	t.Cleanup(host.Close)
	require.NoError(t, host.Load(t.Context(), dir))
	set, ok := host.Catalog().Set("velmora")
	require.True(t, ok, "%v", host.Catalog().NotLoaded)
	old = set.Ref.Digest

	build := exec.CommandContext(t.Context(), "go", "build", "-o", dir, "../../plugins/editions/velmora-2027")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := build.CombinedOutput()
	require.NoError(t, err, string(out))
	list, err := host.Releases(t.Context())
	require.NoError(t, err)
	for _, r := range list {
		if r.File == "velmora-2027" {
			require.NotNil(t, r.Set, r.Problem)
			draft = r.Set.Ref.Digest
		}
	}
	return host, old, draft
}

// served serves a host over memory.
func served(t *testing.T, host *rulehost.Host) *grpc.ClientConn {
	t.Helper()
	known, err := catalogue.Default()
	require.NoError(t, err)
	current, changing := app.ServicesOf(host)
	server, _ := app.NewServer(zerolog.Nop(), nil, api.Services{Catalogue: known, Current: current, Host: changing})
	listener := bufconn.Listen(1 << 20)
	var serving sync.WaitGroup
	serving.Go(func() { _ = server.Serve(listener) }) // ends with Stop
	conn, err := grpc.NewClient("passthrough:memory", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }))
	require.NoError(t, err)
	t.Cleanup(func() {
		_ = conn.Close()
		server.Stop()
		serving.Wait()
	})
	return conn
}

// A thousand times the state's rules are replaced and rolled back while callers ask.
// No call fails, and every answer is by the tables of one moment: those of the
// request's begin, whatever happens before its end.
func TestChangesUnderLoadNeitherFailNorMixAnswers(t *testing.T) {
	cycles := 1_000
	if testing.Short() {
		cycles = 50
	}
	host, old, draft := twoEditions(t)
	conn := served(t, host)
	sets := rulesetv1.NewRuleSetServiceClient(conn)
	changes, err := sets.CompareRuleSets(t.Context(), &rulesetv1.CompareRuleSetsRequest{OldDigest: old, NewDigest: draft})
	require.NoError(t, err)
	require.NotEmpty(t, changes.RowChanges)
	var calls, byDraft atomic.Int64
	stop := make(chan struct{})
	var callers sync.WaitGroup
	for _, ask := range []func(*testing.T, *grpc.ClientConn) [][]*commonv1.RuleSetRef{prescribed, explained, streamed} {
		callers.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				if ofOneMoment(t, ask(t, conn), old, draft) {
					byDraft.Add(1)
				}
				calls.Add(1)
			}
		})
	}
	began := time.Now()
	for range cycles {
		activated, err := sets.ActivateRuleSet(t.Context(), &rulesetv1.ActivateRuleSetRequest{Digest: draft, ComparedWithDigest: old, DecidedBy: "A. Operator"})
		require.NoError(t, err)
		require.Equal(t, draft, activated.Active.Digest)
		back, err := sets.RollBackRuleSet(t.Context(), &rulesetv1.RollBackRuleSetRequest{RuleSetId: "velmora", ActiveDigest: draft, DecidedBy: "A. Operator"})
		require.NoError(t, err)
		require.Equal(t, old, back.Active.Digest)
	}
	took := time.Since(began)
	close(stop)
	callers.Wait()
	t.Logf("%d activations and as many roll-backs in %s (%s each) beside %d calls, of which %d were answered by the draft",
		cycles, took.Round(time.Millisecond), took/time.Duration(2*cycles), calls.Load(), byDraft.Load())
	assert.Positive(t, byDraft.Load(), "no call came while the draft was active")
	assert.Less(t, byDraft.Load(), calls.Load(), "no call came while the older edition was active")
}

// ofOneMoment sees that all lists of sets in an answer are the same, and that they
// are what was active at one time. It reports whether the draft was.
func ofOneMoment(t *testing.T, answer [][]*commonv1.RuleSetRef, old, draft string) bool {
	t.Helper()
	if !assert.NotEmpty(t, answer) {
		return false
	}
	for _, sets := range answer {
		if !assert.True(t, slices.EqualFunc(answer[0], sets, func(a, b *commonv1.RuleSetRef) bool { return proto.Equal(a, b) }), "two laws in one answer: %v", answer) {
			return false
		}
	}
	var digests []string
	for _, ref := range answer[0] {
		if ref.RuleSetId == "velmora" {
			digests = append(digests, ref.Digest)
		}
	}
	assert.Len(t, answer[0], 2, "federal and state law")
	assert.Contains(t, [][]string{{old}, {draft}}, digests)
	return slices.Equal(digests, []string{draft})
}

func atVelmora() *treatmentv1.PrescribeRequest {
	r := prescribeOne()
	r.Site.Place = "us/velmora"
	for _, id := range []string{"2", "3", "4"} {
		stem := proto.CloneOf(r.Stems[0])
		stem.StemId, stem.Form = id, commonv1.GrowthForm_GROWTH_FORM_TREE
		r.Stems = append(r.Stems, stem)
	}
	return r
}

func prescribed(t *testing.T, conn *grpc.ClientConn) [][]*commonv1.RuleSetRef {
	r, err := treatmentv1.NewTreatmentServiceClient(conn).Prescribe(t.Context(), atVelmora())
	if !assert.NoError(t, err) {
		return nil
	}
	var refs [][]*commonv1.RuleSetRef
	for _, e := range r.Explanations {
		refs = append(refs, e.RuleSets)
	}
	return refs
}

func explained(t *testing.T, conn *grpc.ClientConn) [][]*commonv1.RuleSetRef {
	r, err := rulesetv1.NewRuleSetServiceClient(conn).Explain(t.Context(), &rulesetv1.ExplainRequest{
		Place: "us/velmora", On: &date.Date{Year: 2026, Month: 8, Day: 10},
		Treatment: &ruletablev1.Treatment{Method: commonv1.Method_METHOD_CUT_STUMP},
	})
	if !assert.NoError(t, err) {
		return nil
	}
	for _, f := range r.Findings {
		assert.True(t, slices.ContainsFunc(r.RuleSets, func(ref *commonv1.RuleSetRef) bool { return proto.Equal(ref, f.RuleSet) }), "a row of a set that does not govern")
	}
	return [][]*commonv1.RuleSetRef{r.RuleSets}
}

// streamed sends two chunks of one stream, between which the law may change.
func streamed(t *testing.T, conn *grpc.ClientConn) (refs [][]*commonv1.RuleSetRef) {
	stream, err := treatmentv1.NewTreatmentServiceClient(conn).PrescribeStream(t.Context())
	if !assert.NoError(t, err) {
		return nil
	}
	one := atVelmora()
	one.Site.SiteId = "bank"
	ok := assert.NoError(t, stream.Send(&treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Begin{
		Begin: &treatmentv1.StreamBegin{Date: one.Date, Sites: []*treatmentv1.Site{one.Site}},
	}}))
	for row := int64(1); ok && row <= 2; row++ {
		if !assert.NoError(t, stream.Send(oneRow(row))) {
			return nil
		}
		r, err := stream.Recv()
		if !assert.NoError(t, err) {
			return nil
		}
		var known columnar.Explanations
		list, err := known.Of(r.GetChunk())
		assert.NoError(t, err)
		for _, e := range list {
			refs = append(refs, e.RuleSets)
		}
	}
	assert.NoError(t, stream.CloseSend())
	last, err := stream.Recv()
	if !assert.NoError(t, err) {
		return nil
	}
	return append(refs, last.GetSummary().GetRuleSets())
}
