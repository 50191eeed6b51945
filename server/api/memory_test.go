package api_test

import (
	"io"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

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
	c := e.next()
	c.FirstRow = e.rows + 1
	e.rows += int64(len(c.StemIds))
	return chunk(c), nil
}

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
	require.NoError(t, api.NewTreatment(known, func() api.Law { return law }).PrescribeStream(e))
	return e.atLast - e.early
}

func TestMemoryDoesNotGrowWithRows(t *testing.T) {
	const size, chunks = 2_000, 30
	same := chunkOf(1, goodSite().SiteId, newDraw(9).stems(size))
	growth := grown(t, chunks, func() *treatmentv1.StemChunk { return same })
	assert.Less(t, growth, int64(8*size*chunks), "less than 8 bytes a row")
}

// Where no two rows are alike each has an explanation of its own, and only so many
// are kept; unbounded, the 8,000 of the last two thirds would take some 60 MB.
func TestMemoryDoesNotGrowWithKindsOfRows(t *testing.T) {
	d := newDraw(10)
	growth := grown(t, 15, func() *treatmentv1.StemChunk { return chunkOf(1, goodSite().SiteId, d.stems(900)) })
	assert.Less(t, growth, int64(20<<20))
}
