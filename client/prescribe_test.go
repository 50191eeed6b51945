package client_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
	"example.org/rootward/client/inventory"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// sink keeps the rows it is given.
type sink struct {
	rows []*client.Row
	fail error
}

func (s *sink) Row(r *client.Row) error {
	s.rows = append(s.rows, r)
	return s.fail
}

// prescribe runs a file through a server and gives the rows of the last pass.
func prescribe(t *testing.T, s *clienttest.Server, path string, o client.Options) ([]*client.Row, *client.Result, error) {
	t.Helper()
	c := clienttest.Connect(t, s.Register)
	last := &sink{}
	o.Date = clienttest.Date
	result, err := c.Prescribe(t.Context(), path, o, func() (client.Sink, error) {
		last = &sink{}
		return last, nil
	})
	return last.rows, result, err
}

func file(t *testing.T, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "inventory.csv")
	require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
	return path
}

// many is an inventory of n rows, every tenth of which cannot be read.
func many(t *testing.T, n int) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("occurrenceID,scientificName,locationID,place,site_area_ac,form,dbh_in\n")
	for i := range n {
		dbh := "10"
		if i%10 == 9 {
			dbh = "thick"
		}
		fmt.Fprintf(&b, "s-%d,Ailanthus altissima,mill-meadow,us/velmora,200,tree,%s\n", i, dbh)
	}
	return file(t, b.String())
}

func TestEveryRowIsAnsweredInTheOrderOfTheFile(t *testing.T) {
	rows, result, err := prescribe(t, &clienttest.Server{}, file(t, clienttest.Inventory), client.Options{})
	require.NoError(t, err)
	want := clienttest.Rows(t)
	require.Len(t, rows, len(want))
	for i, row := range rows {
		assert.Equal(t, want[i].Record.Stem.GetStemId(), row.Record.Stem.GetStemId())
		assert.Equal(t, want[i].Outcome, row.Outcome, row.Record.Stem.GetStemId())
		assert.True(t, proto.Equal(want[i].Explanation, row.Explanation), row.Record.Stem.GetStemId())
		assert.True(t, proto.Equal(want[i].Second, row.Second), row.Record.Stem.GetStemId())
		assert.Equal(t, want[i].Faults, row.Faults)
		assert.InDelta(t, want[i].Dose.GetProductMl(), row.Dose.GetProductMl(), 1e-3)
		assert.InDelta(t, want[i].Dose.GetRateLbAePerAc(), row.Dose.GetRateLbAePerAc(), 1e-8)
	}
	assert.True(t, proto.Equal(clienttest.Result().Totals, result.Totals), result.Totals)
}

func TestALargeFileKeepsItsOrderOverManyChunks(t *testing.T) {
	const n = 70_000
	var progress int64
	rows, result, err := prescribe(t, &clienttest.Server{}, many(t, n), client.Options{Progress: func(_ int, rows int64) { progress = rows }})
	require.NoError(t, err)
	require.Len(t, rows, n)
	for i, row := range rows {
		require.Equal(t, int64(i+1), row.Record.Number)
		require.Equal(t, i%10 == 9, row.Outcome == treatmentv1.Outcome_OUTCOME_REJECTED)
	}
	assert.EqualValues(t, n, progress)
	assert.EqualValues(t, n/10, result.Totals.GetRejected())
}

// What a sink keeps of rows is not changed by the answers after them, whose memory is that of
// earlier ones.
func TestRowsAreKeptWhileAnswersAreReceived(t *testing.T) {
	const n = 100_000
	answer := func(_ *treatmentv1.StreamBegin, id string) clienttest.Answer {
		number, err := strconv.Atoi(id[strings.LastIndexByte(id, '-')+1:])
		if err != nil {
			panic(err)
		}
		a := clienttest.AnswerFor([]string{"m-2", "m-3", "m-4", "m-5", "m-6", "b-5", "others"}[number*number%7])
		if a.Dose.GetMixMl() > 0 {
			a.Dose.Stems = int64(number + 1)
		}
		return a
	}
	rows, _, err := prescribe(t, &clienttest.Server{Answer: answer}, many(t, n), client.Options{})
	require.NoError(t, err)
	require.Len(t, rows, n)
	for i, row := range rows {
		if i%10 == 9 {
			continue // cannot be read
		}
		want := answer(nil, fmt.Sprint("s-", i))
		require.Equal(t, want.Outcome, row.Outcome, i)
		require.Equal(t, len(want.Faults), len(row.Faults), i)
		if want.Explanation != nil {
			require.Equal(t, want.Explanation.GetWhy(), row.Explanation.GetWhy(), i)
		}
		if want.Outcome == treatmentv1.Outcome_OUTCOME_PRESCRIBED {
			require.Equal(t, want.Dose.GetStems(), row.Dose.GetStems(), i)
			require.Equal(t, want.Second.GetStems(), row.Second.GetStems(), i)
		}
	}
}

func TestAFileOfNothingButFaultsIsAnswered(t *testing.T) {
	var b strings.Builder
	b.WriteString("occurrenceID,scientificName,locationID,place,form,dbh_in\n")
	const n = 40_000
	for i := range n {
		fmt.Fprintf(&b, "s-%d,Ailanthus altissima,mill-meadow,us/velmora,tree,thick\n", i)
	}
	var begun *treatmentv1.StreamBegin
	s := &clienttest.Server{Begin: func(b *treatmentv1.StreamBegin) error { begun = b; return nil }}
	rows, result, err := prescribe(t, s, file(t, b.String()), client.Options{})
	require.NoError(t, err)
	assert.Len(t, rows, n)
	assert.EqualValues(t, n, result.Totals.GetRejected())
	assert.Len(t, begun.GetSites(), 1, "what is wrong with date and settings is told all the same")
}

// splitting is a server whose site takes two seasons: without a share it admits
// the first rows that come, with one it admits by the share.
func splitting(passes *atomic.Int64) *clienttest.Server {
	admitted := []byte{1, 2, 3}
	return &clienttest.Server{
		Begin: func(*treatmentv1.StreamBegin) error { passes.Add(1); return nil },
		Answer: func(begin *treatmentv1.StreamBegin, id string) clienttest.Answer {
			if shares := begin.GetSites()[0].GetSeasonShares(); len(shares) == 1 && string(shares[0].GetAdmitted()) == string(admitted) && id == "s-0" {
				return clienttest.AnswerFor("m-6") // deferred
			}
			return clienttest.AnswerFor(id)
		},
		Summarise: func(_ *treatmentv1.StreamBegin, totals *treatmentv1.Totals) *treatmentv1.Summary {
			return &treatmentv1.Summary{Totals: totals, SiteUses: []*treatmentv1.SiteUse{
				{SiteId: "mill-meadow", Active: "triclopyr", Seasons: 2, Share: &treatmentv1.SeasonShare{Active: "triclopyr", Admitted: admitted}},
				{SiteId: "mill-meadow", Active: "glyphosate", Seasons: 1},
			}}
		},
	}
}

func TestASplitSiteIsPrescribedOnceMoreWithItsShare(t *testing.T) {
	var passes atomic.Int64
	rows, result, err := prescribe(t, splitting(&passes), many(t, 25), client.Options{})
	require.NoError(t, err)
	assert.EqualValues(t, 2, passes.Load())
	require.Len(t, rows, 25, "rows of the first pass came through")
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_DEFERRED, rows[0].Outcome)
	assert.EqualValues(t, 1, result.Totals.GetDeferred())
	assert.Len(t, result.Sites[0].GetSeasonShares(), 1)
}

// of writes an inventory of so many sites, of 10,000 rows each. The row with a number, from
// 0, is the only one that states the area of its site; -1: all do.
func of(t *testing.T, sites, stating int) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("occurrenceID,scientificName,locationID,place,site_area_ac,form,dbh_in\n")
	for i := range 10_000 * sites {
		area := ""
		if stating < 0 || i == stating {
			area = "200"
		}
		fmt.Fprintf(&b, "s-%d,Ailanthus altissima,meadow-%d,us/velmora,%s,tree,10\n", i, i/10_000, area)
	}
	return file(t, b.String())
}

// Sites are stated as they come, each once and before its rows, and a large file is read once.
func TestSitesAreStatedBeforeTheirRows(t *testing.T) {
	const sites = 7
	var begun []int // sites that streams began with
	var stated *treatmentv1.StreamBegin
	var most int64
	s := &clienttest.Server{
		Begin: func(b *treatmentv1.StreamBegin) error {
			begun, stated = append(begun, len(b.GetSites())), b
			return nil
		},
		Answer: func(b *treatmentv1.StreamBegin, id string) clienttest.Answer {
			number, _ := strconv.Atoi(strings.TrimPrefix(id, "s-"))
			if number/10_000 >= len(b.GetSites()) {
				return clienttest.AnswerFor("m-6") // deferred
			}
			return clienttest.AnswerFor(id)
		},
	}
	rows, result, err := prescribe(t, s, of(t, sites, -1), client.Options{Total: func(rows int64) { most = max(most, rows) }})
	require.NoError(t, err)
	assert.Len(t, rows, 10_000*sites)
	require.Len(t, begun, 1)
	assert.Less(t, begun[0], sites)
	require.Len(t, stated.GetSites(), sites)
	for i, site := range stated.GetSites() {
		assert.Equal(t, fmt.Sprint("meadow-", i), site.GetSiteId())
		assert.True(t, proto.Equal(site, result.Sites[i]))
	}
	assert.Zero(t, result.Totals.GetDeferred(), "rows whose site was not stated")
	assert.InDelta(t, 10_000*sites, most, 500*sites)
}

// Where a row states something of its site that no row before did, all rows are decided once more
// with it, unless none of them was sent yet.
func TestWhatIsSaidOfASiteLateHoldsForAllItsRows(t *testing.T) {
	for name, c := range map[string]struct{ stating, passes int }{
		"the first row of its site":               {20_000, 1},
		"a row that is sent with the first":       {100, 1},
		"a row long after the first that is sent": {39_999, 2},
		"the last row of a site within a chunk":   {9_999, 1},
	} {
		var begun []*treatmentv1.StreamBegin
		s := &clienttest.Server{Begin: func(b *treatmentv1.StreamBegin) error { begun = append(begun, b); return nil }}
		rows, result, err := prescribe(t, s, of(t, 6, c.stating), client.Options{})
		require.NoError(t, err, name)
		assert.Len(t, rows, 60_000, name)
		require.Len(t, begun, c.passes, name)
		last := begun[c.passes-1].GetSites()
		require.Len(t, last, 6, name)
		for i, site := range last {
			assert.Equal(t, i == c.stating/10_000, site.AreaM2 != nil, name)
			assert.True(t, proto.Equal(site, result.Sites[i]), name)
		}
	}
}

// Shares come from a pass in which all of the sites was known.
func TestSharesAreThoseOfAllThatIsKnownOfTheSites(t *testing.T) {
	var begun []*treatmentv1.StreamBegin
	share := &treatmentv1.SeasonShare{Active: "triclopyr", Admitted: []byte{1}}
	s := &clienttest.Server{
		Begin: func(b *treatmentv1.StreamBegin) error { begun = append(begun, b); return nil },
		Summarise: func(b *treatmentv1.StreamBegin, totals *treatmentv1.Totals) *treatmentv1.Summary {
			use := &treatmentv1.SiteUse{SiteId: "meadow-3", Active: "triclopyr", Seasons: 2, Share: share}
			if b.GetSites()[3].AreaM2 == nil {
				use.Share = &treatmentv1.SeasonShare{Active: "triclopyr", Admitted: []byte("of another area")}
			}
			return &treatmentv1.Summary{Totals: totals, SiteUses: []*treatmentv1.SiteUse{use}}
		},
	}
	_, result, err := prescribe(t, s, of(t, 4, 39_999), client.Options{})
	require.NoError(t, err)
	require.Len(t, begun, 3)
	require.Len(t, result.Sites[3].GetSeasonShares(), 1)
	assert.True(t, proto.Equal(share, result.Sites[3].GetSeasonShares()[0]))
}

func TestOnlyTheRowsOfOneSiteAndThoseWithoutASite(t *testing.T) {
	content := clienttest.Inventory + `b-6,Rhamnus cathartica,,us/velmora/ossel-creek,1,43.01199,-38.02045,tree,5,1,no site` + "\n"
	rows, result, err := prescribe(t, &clienttest.Server{}, file(t, content), client.Options{Site: `bank & "brook"`})
	require.NoError(t, err)
	var ids []string
	for _, r := range rows {
		ids = append(ids, r.Record.Stem.GetStemId())
	}
	assert.Equal(t, []string{`<b onclick="x()">b-2</b>`, "b-3", "b-4", "b-5", "b-6"}, ids)
	assert.Len(t, result.Sites, 1)
}

func TestASiteThatIsNotThereIsAnError(t *testing.T) {
	_, _, err := prescribe(t, &clienttest.Server{}, file(t, clienttest.Inventory), client.Options{Site: "mill-medow"})
	assert.ErrorContains(t, err, `no site "mill-medow"`)
	_, _, err = prescribe(t, &clienttest.Server{}, file(t, clienttest.Inventory), client.Options{Applied: map[string][]*treatmentv1.AppliedAmount{"mill-medow": {{Active: "triclopyr", AeG: 1}}}})
	assert.ErrorContains(t, err, `applied amount is stated for site "mill-medow"`)
	_, _, err = prescribe(t, &clienttest.Server{}, file(t, clienttest.Inventory), client.Options{Granted: map[string][]string{"mill-medow": {"x/y"}}})
	assert.ErrorContains(t, err, `granted reduction is stated for site "mill-medow"`)
}

func TestStatementsAboutSitesReachTheServer(t *testing.T) {
	var got *treatmentv1.StreamBegin
	s := &clienttest.Server{Begin: func(b *treatmentv1.StreamBegin) error { got = b; return nil }}
	applied := map[string][]*treatmentv1.AppliedAmount{"mill-meadow": {{Active: "triclopyr", AeG: 120}}}
	_, _, err := prescribe(t, s, file(t, clienttest.Inventory), client.Options{Applied: applied, Granted: map[string][]string{"mill-meadow": {"x/y"}}})
	require.NoError(t, err)
	require.Len(t, got.GetSites(), 2)
	assert.InDelta(t, 120, got.GetSites()[0].GetAppliedThisYear()[0].GetAeG(), 0)
	assert.Equal(t, []string{"x/y"}, got.GetSites()[0].GetGrantedReductions())
	assert.Empty(t, got.GetSites()[1].GetAppliedThisYear())
	assert.Empty(t, got.GetSites()[1].GetGrantedReductions())
	assert.EqualValues(t, 2031, got.GetDate().GetYear())
}

func TestWhatGoesWrongEndsTheCall(t *testing.T) {
	chunks := func(spoil func(n int, c *treatmentv1.PrescriptionChunk) error) *clienttest.Server {
		n := 0
		return &clienttest.Server{Chunk: func(c *treatmentv1.PrescriptionChunk) error { n++; return spoil(n, c) }}
	}
	for name, c := range map[string]struct {
		server *clienttest.Server
		want   string
	}{
		"the server fails in the middle": {chunks(func(n int, _ *treatmentv1.PrescriptionChunk) error {
			if n == 2 {
				return status.Error(codes.Unavailable, "the store is gone")
			}
			return nil
		}), "the store is gone"},
		"the server refuses the beginning": {&clienttest.Server{Begin: func(*treatmentv1.StreamBegin) error {
			return status.Error(codes.InvalidArgument, "no such date")
		}}, "no such date"},
		"a column is short": {chunks(func(_ int, c *treatmentv1.PrescriptionChunk) error {
			c.ProductUl = c.ProductUl[1:]
			return nil
		}), "in column product_ul for"},
		"rows are shifted": {chunks(func(_ int, c *treatmentv1.PrescriptionChunk) error {
			c.FirstRow++
			return nil
		}), "row 2 where row 1 was asked"},
		"an outcome is new": {chunks(func(_ int, c *treatmentv1.PrescriptionChunk) error {
			c.Outcome[3] = 9
			return nil
		}), "outcome 9"},
		"an explanation is missing": {chunks(func(_ int, c *treatmentv1.PrescriptionChunk) error {
			c.Explanation[0] = 77
			return nil
		}), "without an explanation"},
		"the counts differ": {&clienttest.Server{Summarise: func(_ *treatmentv1.StreamBegin, totals *treatmentv1.Totals) *treatmentv1.Summary {
			totals.Deferred++
			return &treatmentv1.Summary{Totals: totals}
		}}, "cannot be trusted"},
	} {
		t.Run(name, func(t *testing.T) {
			_, result, err := prescribe(t, c.server, many(t, 60_000), client.Options{})
			require.ErrorContains(t, err, c.want)
			assert.Nil(t, result)
		})
	}
}

func TestASinkThatFailsEndsTheCall(t *testing.T) {
	c := clienttest.Connect(t, (&clienttest.Server{}).Register)
	full := errors.New("the disk is full")
	_, err := c.Prescribe(t.Context(), many(t, 60_000), client.Options{Date: clienttest.Date}, func() (client.Sink, error) {
		return &sink{fail: full}, nil
	})
	assert.ErrorIs(t, err, full)
}

// goleak checks after all tests that none of these left a goroutine behind.
func TestACancelledCallEndsEverything(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	c := clienttest.Connect(t, (&clienttest.Server{Chunk: func(*treatmentv1.PrescriptionChunk) error { cancel(); return nil }}).Register)
	_, err := c.Prescribe(ctx, many(t, 100_000), client.Options{Date: clienttest.Date}, func() (client.Sink, error) { return &sink{}, nil })
	assert.ErrorIs(t, err, context.Canceled)
}

func TestAFileThatBreaksOffIsAnErrorOfTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "inventory.geojson")
	require.NoError(t, os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[{"type":"Feature",`), 0o600))
	_, _, err := prescribe(t, &clienttest.Server{}, path, client.Options{})
	var fault *inventory.FileError
	require.ErrorAs(t, err, &fault)
	assert.Contains(t, strings.Join(client.Problems(err), "\n"), path)
}
