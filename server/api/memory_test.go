package api_test

import (
	"context"
	"io"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

// endless is a stream of so many chunks. It keeps no answer, and looks at the heap
// after the first chunks and after the last.
type endless struct {
	grpc.ServerStream
	next          func() *treatmentv1.StemChunk
	chunks, sent  int
	rows          int64
	early, atLast int64 // heap in bytes
}

func (e *endless) Recv() (*treatmentv1.PrescribeStreamRequest, error) {
	e.sent++
	switch e.sent {
	case 1:
		return begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}), nil
	case e.chunks / 3:
		e.early = heap()
	case e.chunks:
		e.atLast = heap()
		return nil, io.EOF
	}
	c := proto.CloneOf(e.next())
	c.FirstRow = e.rows + 1
	e.rows += int64(columnar.Rows(c))
	return chunk(c), nil
}

func (e *endless) RecvMsg(m any) error { return receive(m, e) }

func (*endless) Context() context.Context { return context.Background() }

func (*endless) Send(*treatmentv1.PrescribeStreamResponse) error { return nil }

func heap() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// grown is how much the heap grew over the last two thirds of a stream.
func grown(t *testing.T, chunks int, next func() *treatmentv1.StemChunk) int64 {
	t.Helper()
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	e := &endless{next: next, chunks: chunks}
	require.NoError(t, api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }}).PrescribeStream(e))
	return e.atLast - e.early
}

func TestMemoryDoesNotGrowWithRows(t *testing.T) {
	const size, chunks = 500, 480 // small, so that a chunk more or less under way does not count
	same := chunkOf(1, goodSite().SiteId, newDraw(9).stems(size))
	growth := grown(t, chunks, func() *treatmentv1.StemChunk { return same })
	assert.Less(t, growth, int64(8*size*chunks), "less than 8 bytes a row")
}

// Where no two rows are alike each has an explanation of its own, of which some 300 bytes
// are kept: as messages, the 24,000 of the last two thirds would take some 180 MB. The
// chunks under way, more of them where there are more processors, take a few times 7 MB.
func TestMemoryDoesNotGrowWithKindsOfRows(t *testing.T) {
	if testing.Short() {
		t.Skip("three seconds, and nothing in it runs side by side that other tests do not")
	}
	d := newDraw(10)
	growth := grown(t, 40, func() *treatmentv1.StemChunk { return chunkOf(1, goodSite().SiteId, d.stems(900)) })
	t.Logf("%d MB more", growth>>20)
	assert.Less(t, growth, int64(90<<20))
}
