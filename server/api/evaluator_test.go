package api_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/api"
	"example.org/rootward/server/batch"
	"example.org/rootward/server/treatment"
	"example.org/rootward/server/water"
)

// decided is what became of an inventory.
type decided struct {
	answers          []*treatmentv1.PrescriptionChunk
	summary          *treatmentv1.Summary
	passes           int
	results, tallies [][]byte // of the chunks, by an engine's runs
}

// decide decides chunks as an engine does: in any order, by runs that are opened anew
// now and then, some chunks twice.
func decide(tb testing.TB, e batch.Evaluator, begin *treatmentv1.StreamBegin, pinned []byte, chunks []*treatmentv1.StemChunk, r *rand.Rand) decided {
	request := bytesOf(tb, begin)
	var shares []byte
	for pass := 1; ; pass++ {
		tallies := make([][]byte, len(chunks))
		results := make([][]byte, len(chunks))
		d := decided{answers: make([]*treatmentv1.PrescriptionChunk, len(chunks)), passes: pass, results: results, tallies: tallies}
		var run batch.Run
		for _, i := range append(r.Perm(len(chunks)), r.IntN(len(chunks))) {
			if run == nil || r.IntN(4) == 0 {
				var err error
				run, err = e.Open(tb.Context(), request, pinned, shares)
				require.NoError(tb, err)
			}
			var read any
			if r.IntN(2) == 0 {
				read = chunks[i] // as while it is uploaded
			}
			a, err := run.Answer(bytesOf(tb, chunks[i]), read)
			require.NoError(tb, err)
			if tallies[i] != nil {
				require.Equal(tb, results[i], a.Result, "a chunk is answered alike, whatever was answered before")
				require.Equal(tb, tallies[i], a.Tally)
			}
			require.EqualValues(tb, columnar.Rows(chunks[i]), a.Counts.Rows())
			results[i], tallies[i] = bytes.Clone(a.Result), bytes.Clone(a.Tally)
			d.answers[i] = &treatmentv1.PrescriptionChunk{}
			require.NoError(tb, proto.Unmarshal(a.Result, d.answers[i]))
		}
		sum, err := e.Sum(tb.Context(), request, pinned, shares, each(tallies))
		require.NoError(tb, err)
		if sum.Shares == nil {
			d.summary = &treatmentv1.Summary{}
			require.NoError(tb, proto.Unmarshal(sum.Summary, d.summary))
			return d
		}
		require.Equal(tb, 1, pass, "there are two passes at most")
		shares = sum.Shares
	}
}

func each(list [][]byte) func(func([]byte, error) bool) {
	return func(yield func([]byte, error) bool) {
		for _, data := range list {
			if !yield(data, nil) {
				return
			}
		}
	}
}

func bytesOf(tb testing.TB, m proto.Message) []byte {
	tb.Helper()
	data, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	require.NoError(tb, err)
	return data
}

// streamedTwice decides chunks as a client of PrescribeStream does: once more with the
// shares of the season, if a site is split.
func streamedTwice(tb testing.TB, c clients, of *treatmentv1.StreamBegin, chunks []*treatmentv1.StemChunk) decided {
	sent := proto.CloneOf(of)
	for pass := 1; ; pass++ {
		messages := []*treatmentv1.PrescribeStreamRequest{begin(sent)}
		for _, part := range chunks {
			messages = append(messages, chunk(part))
		}
		answers, err := send(tb, c, messages...)
		require.NoError(tb, err)
		d := decided{summary: answers[len(answers)-1].GetSummary(), passes: pass}
		for _, a := range answers[:len(answers)-1] {
			d.answers = append(d.answers, a.GetChunk())
		}
		split := false
		for _, u := range d.summary.GetSiteUses() {
			for _, site := range sent.GetSites() {
				if u.GetShare() != nil && site.GetSiteId() == u.GetSiteId() {
					site.SeasonShares, split = append(site.SeasonShares, u.GetShare()), true
				}
			}
		}
		if !split || pass == 2 {
			return d
		}
	}
}

func requireSameDecision(tb testing.TB, want, got decided) {
	tb.Helper()
	assert.Equal(tb, want.passes, got.passes)
	require.Len(tb, got.answers, len(want.answers))
	for i := range want.answers {
		requireSame(tb, want.answers[i], got.answers[i])
	}
	requireSame(tb, want.summary, got.summary)
}

// sitesOf makes sites of the place, some of which are too small for their stems.
func (d draw) sites(n int) []*treatmentv1.Site {
	var sites []*treatmentv1.Site
	for i := range n {
		site := &treatmentv1.Site{SiteId: fmt.Sprintf("site %d", i), Place: district, AreaM2: ptr(float64(1 + d.IntN(1+d.IntN(20_000)))), ElevationM: ptr(float64(i))}
		if i%5 == 4 {
			site.Place = "us/elsewhere" // without law
		}
		sites = append(sites, site)
	}
	return sites
}

// chunked puts drawn stems of the sites into chunks of drawn sizes.
func (d draw) chunked(sites []*treatmentv1.Site, stems []*treatmentv1.Stem) []*treatmentv1.StemChunk {
	var chunks []*treatmentv1.StemChunk
	for first := 0; first < len(stems); {
		end := min(first+1+d.IntN(len(stems)), len(stems))
		c := chunkOf(int64(first)+1, sites[0].SiteId, stems[first:end])
		for i := range c.Site {
			c.Site[i] = indexOf(c, sites[d.IntN(len(sites))].SiteId)
			if d.IntN(50) == 0 {
				c.Site[i] = indexOf(c, "no such site")
			}
		}
		chunks, first = append(chunks, c), end
	}
	return chunks
}

func evaluatorOf(tb testing.TB, law api.Law) batch.Evaluator {
	known, err := shipped()
	require.NoError(tb, err)
	return api.NewEvaluator(api.Services{Catalogue: known, Current: func() api.Law { return law }, Aside: asideIn(tb.TempDir()), Version: "this one"})
}

// A batch is decided as a stream is whose client sends the rows once more with the
// shares of the season, whatever the chunks and the order in which they are decided.
func TestABatchIsDecidedAsAStreamIs(t *testing.T) {
	law := lawOf(nation(t), state(t), creek(t), fen(t))
	e, c := evaluatorOf(t, law), serve(t, func() api.Law { return law })
	passes := map[int]int{}
	for seed := range uint64(15) {
		if seed == 7 {
			api.KeepSums(t, treatment.Room{Memory: 1, File: 1}) // all aside from here on
		}
		d := newDraw(seed)
		sites := d.sites(1 + d.IntN(6))
		begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: sites}
		chunks := d.chunked(sites, d.stems(1+d.IntN(150)))
		pinned, err := e.Pin(t.Context(), bytesOf(t, begin), nil)
		require.NoError(t, err)
		got := decide(t, e, begin, pinned, chunks, d.Rand)
		requireSameDecision(t, streamedTwice(t, c, begin, chunks), got)
		requireWithinMaxima(t, got.summary)
		passes[got.passes]++
	}
	assert.Len(t, passes, 2, "one pass and two are due now and then: %v", passes)
}

func requireWithinMaxima(tb testing.TB, s *treatmentv1.Summary) {
	for _, u := range s.GetSiteUses() {
		require.LessOrEqual(tb, u.GetUsedLbAePerAc(), u.GetLimitLbAePerAc(), u.GetSiteId())
	}
}

// A run keeps explanations from chunk to chunk, and drops them where they are too many:
// no answer tells which.
func TestAChunkIsAnsweredAlikeAfterManyOthers(t *testing.T) {
	e := evaluatorOf(t, fullLaw(t))
	begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}
	pinned, err := e.Pin(t.Context(), bytesOf(t, begin), nil)
	require.NoError(t, err)
	open := func() batch.Run {
		run, err := e.Open(t.Context(), bytesOf(t, begin), pinned, nil)
		require.NoError(t, err)
		return run
	}
	// Each row twice, so that one whose explanation is dropped in between shows.
	stems := newDraw(12).stems(5_000)
	others, last := chunkOf(1, goodSite().SiteId, stems[:3_500]), chunkOf(1, goodSite().SiteId, append(stems[3_500:], stems[3_500:]...))
	used := open()
	_, err = used.Answer(bytesOf(t, others), nil)
	require.NoError(t, err)
	want, err := open().Answer(bytesOf(t, last), nil)
	require.NoError(t, err)
	got, err := used.Answer(bytesOf(t, last), nil)
	require.NoError(t, err)
	require.True(t, bytes.Equal(want.Result, got.Result))
	require.True(t, bytes.Equal(want.Tally, got.Tally))
}

// Where a caller states a share that would pass the maximum, another takes its place.
func TestABatchNeverPassesAMaximumByAStatedShare(t *testing.T) {
	law := fullLaw(t)
	e := evaluatorOf(t, law)
	d := newDraw(7)
	all := slices.Repeat([]byte{0xff}, 256)
	site := &treatmentv1.Site{SiteId: "small", Place: district, AreaM2: ptr(300.0)}
	for _, active := range []string{"triclopyr", "imazapyr", "glyphosate"} {
		site.SeasonShares = append(site.SeasonShares, &treatmentv1.SeasonShare{Active: active, Admitted: all})
	}
	begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{site}}
	chunks := d.chunked(begin.Sites, d.stems(500))
	pinned, err := e.Pin(t.Context(), bytesOf(t, begin), nil)
	require.NoError(t, err)
	got := decide(t, e, begin, pinned, chunks, d.Rand)
	assert.Equal(t, 2, got.passes)
	assert.Positive(t, got.summary.GetTotals().GetPrescribed())
	requireWithinMaxima(t, got.summary)
}

// What was pinned decides, whatever law the server has by then, with what plugins had
// computed at the start.
func TestThePinnedLawDecides(t *testing.T) {
	computes, _ := pluginLaw(t)
	begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: newDraw(1).sites(6)}
	chunks := newDraw(2).chunked(begin.Sites, newDraw(3).stems(300))
	first := evaluatorOf(t, computes)
	pinned, err := first.Pin(t.Context(), bytesOf(t, begin), nil)
	require.NoError(t, err)
	want := decide(t, first, begin, pinned, chunks, newDraw(4).Rand)
	requireSameDecision(t, streamedTwice(t, serve(t, func() api.Law { return computes }), begin, chunks), want)

	other := evaluatorOf(t, lawOf(nation(t)))
	requireSameDecision(t, want, decide(t, other, begin, pinned, chunks, newDraw(5).Rand))
	anew, err := other.Pin(t.Context(), bytesOf(t, begin), nil)
	require.NoError(t, err)
	assert.False(t, bytes.Equal(pinned, anew))
}

// A retry keeps the law and every answer that there was, and asks for the others.
func TestWhatCouldNotBeComputedIsAskedAnew(t *testing.T) {
	law, plugin := pluginLaw(t)
	begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: newDraw(1).sites(4)}
	request := bytesOf(t, begin)
	e := evaluatorOf(t, law)
	plugin.failing = true
	before, err := e.Pin(t.Context(), request, nil)
	require.NoError(t, err)
	plugin.failing = false
	whole, err := e.Pin(t.Context(), request, nil)
	require.NoError(t, err)
	plugin.asked = 0

	again, err := evaluatorOf(t, law).Pin(t.Context(), request, before)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(whole, again))
	assert.False(t, bytes.Equal(before, again))
	assert.Equal(t, 1, plugin.asked, "only the site whose answer was wanting is asked for")

	unchanged, err := evaluatorOf(t, lawOf(nation(t))).Pin(t.Context(), request, before)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(before, unchanged), "without the plugin everything stays")
}

// plugin computes a row that keeps sites open the longer the higher they lie.
type plugin struct {
	failing bool // at the site that lies 1 m high
	asked   int
}

// pluginLaw is a law with a computed row, and what computes it.
func pluginLaw(tb testing.TB) (api.Law, *plugin) {
	p := &plugin{}
	law := lawOf(nation(tb), state(tb), setOf(tb, "computing", rules.District, district,
		row("frost", rules.Selector{}, rules.Computed{Method: "frost", Needs: rules.AnyOf(rules.FactElevation)})))
	law.Compute = func(_ context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
		p.asked += len(sites)
		rows := g.Computed()
		answers := make([][]rules.Answer, len(rows))
		for i := range rows {
			for _, site := range sites {
				high := int(site.Elevation / quantity.Metre)
				a := rules.Answer{Kind: rules.OpenDuring, Open: yearly(7, 1, 7, 18+high), Words: "frost ends"}
				if p.failing && high == 1 {
					a = rules.Answer{Kind: rules.FactMissing, Words: "the plugin gave up"}
				}
				answers[i] = append(answers[i], a)
			}
		}
		return g.ResolveAll(rows, answers, len(sites))
	}
	return law, p
}

// A server that cannot decide as the one that pinned leaves it to another; bytes that
// nobody wrote end the batch.
func TestWhatKeepsABatchFromBeingOpened(t *testing.T) {
	law := fullLaw(t)
	e := evaluatorOf(t, law)
	begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}
	request := bytesOf(t, begin)
	pinned, err := e.Pin(t.Context(), request, nil)
	require.NoError(t, err)
	change := func(do func(*inventoryv1.PinnedLaw)) []byte {
		p := &inventoryv1.PinnedLaw{}
		require.NoError(t, proto.Unmarshal(pinned, p))
		do(p)
		return bytesOf(t, p)
	}
	cases := []struct {
		name                    string
		request, pinned, shares []byte
		says                    string
		ends                    bool
	}{
		{"another catalogue", request, change(func(p *inventoryv1.PinnedLaw) { p.CatalogueDigest[0]++ }), nil, "--formulations", false},
		{"another version of the program", request, change(func(p *inventoryv1.PinnedLaw) { p.Version = "older" }), nil, "started by version older of the program, and this server is this one", false},
		{"a request that another version could read", bytesOf(t, &treatmentv1.StreamBegin{Date: midsummer()}), change(func(p *inventoryv1.PinnedLaw) { p.Version = "older" }), nil, "started by version older", false},
		{"a version that was not noted", request, change(func(p *inventoryv1.PinnedLaw) { p.Version = "" }), nil, "version (not noted)", false},
		{"another table than was pinned", request, change(func(p *inventoryv1.PinnedLaw) { p.Tables[0].Ref.Digest = "0" }), nil, "was pinned with digest 0", true},
		{"a table that is none", request, change(func(p *inventoryv1.PinnedLaw) { p.Tables[0].Table.Rows[0].Effect = nil }), nil, "rule set nation", true},
		{"a request that is none", []byte{1, 2, 3}, pinned, nil, "the request", true},
		{"a request without sites", bytesOf(t, &treatmentv1.StreamBegin{Date: midsummer()}), pinned, nil, "the request", true},
		{"a pin that is none", request, []byte{1, 2, 3}, nil, "what was pinned", true},
		{"shares that are none", request, pinned, []byte{1, 2, 3}, "the shares", true},
		{"a share of no site", request, pinned, bytesOf(t, &inventoryv1.PinnedShares{Shares: []*inventoryv1.PinnedShare{{Site: 1, Admitted: make([]byte, 256)}}}), "site 1 of 1", true},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := e.Open(t.Context(), c.request, c.pinned, c.shares)
			require.ErrorContains(t, err, c.says)
			var refusal interface{ Refusal() string }
			var elsewhere interface{ Elsewhere() }
			assert.Equal(t, c.ends, errors.As(err, &refusal))
			assert.Equal(t, !c.ends, errors.As(err, &elsewhere), "another server may decide")
		})
	}
}

// A retry decides all rows once more, and so by the program of its own time.
func TestARetryIsOfTheVersionThatPinsIt(t *testing.T) {
	law := fullLaw(t)
	known, err := shipped()
	require.NoError(t, err)
	of := func(version string) batch.Evaluator {
		return api.NewEvaluator(api.Services{Catalogue: known, Current: func() api.Law { return law }, Version: version})
	}
	request := bytesOf(t, &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})
	old, err := of("old").Pin(t.Context(), request, nil)
	require.NoError(t, err)
	again, err := of("new").Pin(t.Context(), request, old)
	require.NoError(t, err)
	for version, pinned := range map[string][]byte{"old": old, "new": again} {
		run, err := of(version).Open(t.Context(), request, pinned, nil)
		require.NoError(t, err, version)
		run.Close()
		_, err = of("another").Open(t.Context(), request, pinned, nil)
		require.ErrorContains(t, err, "started by version "+version, version)
	}
}

// A caller that gives up while a plugin computes leaves nothing half pinned.
func TestNothingIsPinnedOnceTheCallerIsGone(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	law, _ := pluginLaw(t)
	compute := law.Compute
	law.Compute = func(ctx context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
		cancel()
		return compute(ctx, g, sites)
	}
	_, err := evaluatorOf(t, law).Pin(ctx, bytesOf(t, &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}), nil)
	require.ErrorIs(t, err, context.Canceled)
}

// Water is measured in the layers of the start, or by no server at all.
func TestABatchKeepsItsWaterLayers(t *testing.T) {
	law, layers := fullLaw(t), layersWith(t, streamLatitude)
	known, err := shipped()
	require.NoError(t, err)
	with := func(layers *water.Layers) batch.Evaluator {
		return api.NewEvaluator(api.Services{Catalogue: known, Current: func() api.Law { return law }, Water: func() *water.Layers { return layers }})
	}
	d := newDraw(11)
	stems := d.stems(120)
	d.place(stems)
	begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: d.sites(3)}
	chunks := d.chunked(begin.Sites, stems)
	e := with(layers)
	pinned, err := e.Pin(t.Context(), bytesOf(t, begin), nil)
	require.NoError(t, err)
	want := decide(t, e, begin, pinned, chunks, d.Rand)
	require.NotEmpty(t, want.summary.WaterLayers)
	requireSameDecision(t, streamedTwice(t, serveWater(t), begin, chunks), want)

	for name, other := range map[string]*water.Layers{"none": nil, "another": layersWith(t, streamLatitude+0.001)} {
		_, err := with(other).Open(t.Context(), bytesOf(t, begin), pinned, nil)
		var elsewhere interface{ Elsewhere() }
		require.ErrorAs(t, err, &elsewhere, name)
		require.ErrorContains(t, err, "--water", name)
	}
	dry, err := with(nil).Pin(t.Context(), bytesOf(t, begin), nil)
	require.NoError(t, err)
	assert.Empty(t, decide(t, e, begin, dry, chunks, d.Rand).summary.WaterLayers, "what had no layers at its start gets none later")
}
