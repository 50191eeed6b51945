package api_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// BenchmarkPrescribeStream prescribes 100,000 stems in chunks of 16,384 over an
// in-memory connection, client and server in one process. How many kinds of stem
// there are is how many explanations have to be worked out and sent.
func BenchmarkPrescribeStream(b *testing.B) {
	const rows, size = 100_000, 16_384
	for _, kinds := range []int{20, 200, 2_000} {
		b.Run(fmt.Sprintf("kinds=%d", kinds), func(b *testing.B) {
			c := serveFull(b)
			messages := manyRows(rows, size, kinds)
			b.ReportAllocs()
			for b.Loop() {
				answers, err := send(b, c, messages...)
				require.NoError(b, err)
				require.Equal(b, int64(rows), answers[len(answers)-1].GetSummary().Totals.Rows)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*rows), "ns/stem")
		})
	}
}

// manyRows is a stream of rows that repeats so many drawn kinds of stem.
func manyRows(rows, size, kinds int) []*treatmentv1.PrescribeStreamRequest {
	site, drawn := goodSite(), newDraw(6).stems(kinds)
	messages := []*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{site}})}
	for first := 0; first < rows; first += size {
		stems := make([]*treatmentv1.Stem, min(size, rows-first))
		for i := range stems {
			stems[i] = proto.CloneOf(drawn[i%len(drawn)])
			stems[i].StemId = fmt.Sprintf("stem-%d", first+i)
		}
		messages = append(messages, chunk(chunkOf(int64(first)+1, site.SiteId, stems)))
	}
	return messages
}
