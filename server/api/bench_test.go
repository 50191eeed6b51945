package api_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// BenchmarkPrescribeStream prescribes 100,000 drawn stems in chunks of 16,384
// over an in-memory connection, client and server in one process.
func BenchmarkPrescribeStream(b *testing.B) {
	const rows, size = 100_000, 16_384
	c := serveFull(b)
	site := goodSite()
	drawn := newDraw(6).stems(2_000)
	var chunks []*treatmentv1.PrescribeStreamRequest
	for first := 0; first < rows; first += size {
		stems := make([]*treatmentv1.Stem, min(size, rows-first))
		for i := range stems {
			stems[i] = proto.CloneOf(drawn[i%len(drawn)])
			stems[i].StemId = fmt.Sprintf("stem-%d", first+i)
		}
		chunks = append(chunks, chunk(chunkOf(int64(first)+1, site.SiteId, stems)))
	}
	messages := append([]*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{site}})}, chunks...)
	b.ReportAllocs()
	for b.Loop() {
		answers, err := send(b, c, messages...)
		require.NoError(b, err)
		require.Equal(b, int64(rows), answers[len(answers)-1].GetSummary().Totals.Rows)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*rows), "ns/stem")
}
