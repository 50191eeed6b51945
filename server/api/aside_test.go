package api_test

import (
	"context"
	"io"
	"iter"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/server/treatment"
	"example.org/rootward/testdata/many"
)

// inventory is a stream of a drawn inventory. It keeps the last answer.
type inventory struct {
	grpc.ServerStream
	begin  *treatmentv1.StreamBegin
	window int // sites that a chunk is spread over; 0: all
	next   func() (*treatmentv1.StemChunk, bool)
	sent   int
	rows   int64
	at     map[int64]func() // what to do once so many rows were sent
	each   func(*treatmentv1.PrescribeStreamResponse)
}

// asideIn keeps sums in files of a folder.
func asideIn(folder string) api.OpenAside {
	return func() (treatment.File, error) { return os.CreateTemp(folder, "sums-*") }
}

// prescribeAll runs a stream of the first rows of an inventory. Of every so many-th chunk, if
// any, the rows are spread over all sites.
func prescribeAll(t *testing.T, services api.Services, i *inventory, rows int64, spread int) error {
	t.Helper()
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	services.Catalogue, services.Current = known, func() api.Law { return law }
	next, stop := iter.Pull(many.Chunks(7, rows, 4_000))
	var pulling sync.Mutex // a call that fails may end while its next chunk is received
	defer func() {
		pulling.Lock()
		defer pulling.Unlock()
		stop()
	}()
	chunks := 0
	i.next = func() (*treatmentv1.StemChunk, bool) {
		pulling.Lock()
		defer pulling.Unlock()
		c, more := next()
		if chunks++; more && spread > 0 && chunks%spread == 0 {
			i.spread(c, (chunks-1)*i.window)
		}
		return c, more
	}
	return api.NewTreatment(services).PrescribeStream(i)
}

// spread gives the rows of a chunk to the sites from one on.
func (i *inventory) spread(c *treatmentv1.StemChunk, from int) {
	first, sites := len(c.Words), i.begin.Sites
	if i.window > 0 {
		sites = sites[from : from+i.window]
	}
	for _, s := range sites {
		c.Words = append(c.Words, s.SiteId)
	}
	for row := range c.Site {
		c.Site[row] = int32(first + row*7%len(sites))
	}
}

func (i *inventory) Recv() (*treatmentv1.PrescribeStreamRequest, error) {
	if i.sent++; i.sent == 1 {
		return begin(i.begin), nil
	}
	if then := i.at[i.rows]; then != nil {
		then()
	}
	c, more := i.next()
	if !more {
		return nil, io.EOF
	}
	i.rows += int64(len(c.Site))
	return chunk(c), nil
}

func (i *inventory) RecvMsg(m any) error { return receive(m, i) }

func (*inventory) Context() context.Context { return context.Background() }

func (i *inventory) Send(r *treatmentv1.PrescribeStreamResponse) error {
	if i.each != nil {
		i.each(r)
	}
	return nil
}

// crowded is the beginning of an inventory of which every third site is so small that it
// passes its maximum.
func crowded(rows int64) *treatmentv1.StreamBegin {
	b := many.Begin(rows)
	for i := range b.Sites {
		if i%3 == 0 {
			b.Sites[i].AreaM2 = ptr(3_000.0)
		}
	}
	return b
}

// A stream answers the same however few of its sums it keeps in memory, also where sites
// are met with again, and others pass their maximum.
func TestAnswersAreTheSameWithSumsAside(t *testing.T) {
	const rows = 60_000
	for _, spread := range []int{0, 3, 1} {
		var want []*treatmentv1.PrescribeStreamResponse
		split := 0
		for _, room := range []treatment.Room{{Memory: 1 << 30}, {}, {Memory: 1, File: 1}, {Memory: 30_000, File: 100_000}} {
			api.KeepSums(t, room)
			var got []*treatmentv1.PrescribeStreamResponse
			require.NoError(t, prescribeAll(t, api.Services{Aside: asideIn(t.TempDir())}, &inventory{begin: crowded(rows), each: func(r *treatmentv1.PrescribeStreamResponse) {
				got = append(got, proto.CloneOf(r))
			}}, rows, spread))
			if want == nil {
				want = got
			}
			require.Len(t, got, len(want))
			for i := range want {
				require.True(t, proto.Equal(want[i], got[i]), "answer %d", i)
			}
			for _, u := range got[len(got)-1].GetSummary().SiteUses {
				if u.Seasons > 1 {
					split++
				}
			}
		}
		assert.Positive(t, split, "some sites are split")
	}
}

func TestAStreamWhoseSumsCannotBeKeptEnds(t *testing.T) {
	api.KeepSums(t, treatment.Room{Memory: 1})
	folder := filepath.Join(t.TempDir(), "gone")
	err := prescribeAll(t, api.Services{Aside: asideIn(folder)}, &inventory{begin: many.Begin(20_000)}, 20_000, 0)
	requireStatus(t, err, codes.ResourceExhausted, api.NoRoom, "could not be kept in a file of the server")
	assert.ErrorContains(t, err, "no such file or directory")
	assert.NotContains(t, err.Error(), folder, "where the server keeps files is its own")
	assert.ErrorContains(t, err, "send the sites in several streams")

	api.KeepSums(t, treatment.Room{})
	require.NoError(t, prescribeAll(t, api.Services{Aside: asideIn(folder)}, &inventory{begin: many.Begin(20_000)}, 20_000, 0), "few sums need no file")
}

// A site that no row is of any more takes a few hundred bytes. Here each chunk is of sites
// of its own, eight rows of each; with all sums in memory a site would take 1,500 bytes more.
func TestMemoryGrowsLittleWithSites(t *testing.T) {
	if testing.Short() {
		t.Skip("a second, and nothing in it runs side by side that other tests do not")
	}
	const rows, chunk, perSite, early = 320_000, 4_000, 8, 80_000
	var before, after int64
	i := &inventory{
		begin: many.Begin(rows * 2_000 / perSite), window: chunk / perSite,
		at: map[int64]func(){early: func() { before = heap() }, rows: func() { after = heap() }},
	}
	api.KeepSums(t, treatment.Room{Memory: 200_000}) // both times some are aside
	require.NoError(t, prescribeAll(t, api.Services{Aside: asideIn(t.TempDir())}, i, rows, 1))
	growth := (after - before) / ((rows - early) / perSite)
	t.Logf("%d bytes a site", growth)
	assert.Less(t, growth, int64(700))
}
