package api_test

import (
	"context"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/api"
)

// edition gives a law that is one of a server's.
func edition(law api.Law, name string) api.Law {
	law.Edition = name
	return law
}

// request is any request: few rows, any site, day and settings.
func (d draw) request() *treatmentv1.PrescribeRequest {
	site := goodSite()
	site.SiteId = "other"
	switch d.IntN(4) {
	case 0:
		site.AreaM2 = nil
	case 1:
		site.AreaM2 = ptr(float64(1 + d.IntN(100_000)))
		site.AppliedThisYear = []*treatmentv1.AppliedAmount{{Active: "glyphosate", AeG: float64(d.IntN(9_000))}}
	case 2:
		site.Place = "us/velmora"
	}
	q := &treatmentv1.PrescribeRequest{Date: midsummer(), Site: site, Stems: d.stems(1 + d.IntN(30))}
	if d.IntN(3) == 0 {
		q.Date.Month = int32(1 + d.IntN(12))
	}
	if d.IntN(3) == 0 {
		q.Settings = &treatmentv1.Settings{FormulationIds: []string{"glyphosate-ipa-3"}}
	}
	return q
}

func requireSameRows(tb testing.TB, want, got *answered) {
	tb.Helper()
	require.Len(tb, got.Prescriptions, len(want.Prescriptions))
	for i, w := range want.Prescriptions {
		requireSameRow(tb, w, got.Prescriptions[i])
	}
	requireSame(tb, want.Summary, got.Summary)
}

// A server answers its thousandth request as it would answer it as the first.
func TestWarmAnswersAreThoseOfAColdServer(t *testing.T) {
	law := fullLaw(t)
	warm := serve(t, func() api.Law { return edition(law, "one") })
	cold := serve(t, func() api.Law { return law })
	d := newDraw(21)
	rounds := 300
	if testing.Short() {
		rounds = 30
	}
	for range rounds {
		q := d.request()
		want, err := cold.Prescribe(t.Context(), q)
		require.NoError(t, err)
		got, err := warm.Prescribe(t.Context(), q)
		require.NoError(t, err)
		requireSameRows(t, answeredBy(want), answeredBy(got))
		if d.IntN(10) == 0 {
			stems := d.stems(200)
			requireSameRows(t, streamed(t, cold, goodSite(), stems, 50), streamed(t, warm, goodSite(), stems, 50))
		}
	}
}

// What was worked out under one law is of no use under another.
func TestAnotherLawIsNotAnsweredByTheOneBefore(t *testing.T) {
	laws := []api.Law{edition(fullLaw(t), "full"), edition(lawOf(nation(t)), "nation"), edition(lawOf(), "none")}
	var lock sync.Mutex
	current := 0
	warm := serve(t, func() api.Law {
		lock.Lock()
		defer lock.Unlock()
		return laws[current]
	})
	d := newDraw(22)
	for round := range 30 {
		lock.Lock()
		current = round % len(laws)
		lock.Unlock()
		law := laws[round%len(laws)]
		law.Edition = nil
		q := d.request()
		want, err := serve(t, func() api.Law { return law }).Prescribe(t.Context(), q)
		require.NoError(t, err)
		got, err := warm.Prescribe(t.Context(), q)
		require.NoError(t, err)
		requireSameRows(t, answeredBy(want), answeredBy(got))
	}
}

// Nobody sits at a desk that another uses: the race detector looks on.
func TestRequestsSideBySideAreAnsweredAsOneByOne(t *testing.T) {
	law := fullLaw(t)
	warm := serve(t, func() api.Law { return edition(law, "one") })
	cold := serve(t, func() api.Law { return law })
	var group sync.WaitGroup
	for seed := range uint64(8) {
		group.Go(func() {
			d := newDraw(seed)
			for range 10 {
				q := d.request()
				want, err := cold.Prescribe(context.Background(), q)
				if !assert.NoError(t, err) {
					return
				}
				got, err := warm.Prescribe(context.Background(), q)
				if !assert.NoError(t, err) {
					return
				}
				requireSameRows(t, answeredBy(want), answeredBy(got))
			}
		})
	}
	group.Wait()
}

// What was computed for the sites of one request is of no use to the next, while all else
// of its desk is.
func TestWhatWasComputedIsNotLeftOnADesk(t *testing.T) {
	var computed computedLaw
	law := computed.law(t)
	closed := rules.Answer{Kind: rules.Closed, Words: "high"}
	var lock sync.Mutex
	now := closed
	law.Compute = func(_ context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
		lock.Lock()
		defer lock.Unlock()
		resolved := g.Resolve(map[*rules.Row]rules.Answer{g.Computed()[0].Row: now})
		return slices.Repeat([]*rules.Governing{resolved}, len(sites))
	}
	warm := serve(t, func() api.Law { return edition(law, "one") })
	cold := serve(t, func() api.Law { return law })
	d := newDraw(33)
	elsewhere := goodSite()
	elsewhere.Place = "us/velmora" // nothing is computed there
	for round := range 12 {
		lock.Lock()
		now = closed
		if round%2 == 1 {
			now = rules.Answer{Kind: rules.NotRestricted, Words: "low"}
		}
		lock.Unlock()
		for _, site := range []*treatmentv1.Site{goodSite(), elsewhere} {
			stems := d.stems(60)
			requireSameRows(t, streamed(t, cold, site, stems, 25), streamed(t, warm, site, stems, 25))
			q := &treatmentv1.PrescribeRequest{Date: midsummer(), Site: site, Stems: d.stems(3)}
			want, err := cold.Prescribe(t.Context(), q)
			require.NoError(t, err)
			got, err := warm.Prescribe(t.Context(), q)
			require.NoError(t, err)
			requireSameRows(t, answeredBy(want), answeredBy(got))
		}
	}
}
