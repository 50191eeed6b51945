package api_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// repeated lists each word of a chunk three times over, in any order, and has rows point now
// to the one, now to another.
func (d draw) repeated(c *treatmentv1.StemChunk) *treatmentv1.StemChunk {
	const times = 3
	c = proto.CloneOf(c)
	words, places := c.Words, d.Perm(times*len(c.Words))
	c.Words = make([]string, len(places))
	for i, at := range places {
		c.Words[at] = words[i%len(words)]
	}
	for _, column := range [][]int32{c.Site, c.Species} {
		for i, at := range column {
			column[i] = int32(places[int(at)+len(words)*d.IntN(times)])
		}
	}
	return c
}

// What a batch comes to depends on the words that rows point to, not on which of several
// equal ones it is.
func TestRepeatedWordsChangeNothingOfABatch(t *testing.T) {
	law := lawOf(nation(t), state(t), creek(t), fen(t))
	e := evaluatorOf(t, law)
	durable := serveDurable(t, law, e)
	passes := map[int]int{}
	for seed := range uint64(8) {
		d := newDraw(seed)
		begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: d.sites(1 + d.IntN(6))}
		once := d.chunked(begin.Sites, d.stems(1+d.IntN(200)))
		var often []*treatmentv1.StemChunk
		for _, c := range once {
			often = append(often, d.repeated(c))
		}
		pinned, err := e.Pin(t.Context(), bytesOf(t, begin), nil)
		require.NoError(t, err)
		want, got := decide(t, e, begin, pinned, once, d.Rand), decide(t, e, begin, pinned, often, d.Rand)
		requireSameDecision(t, want, got)
		for i := range once {
			require.True(t, bytes.Equal(want.results[i], got.results[i]), "the result of chunk %d", i)
			require.True(t, bytes.Equal(want.tallies[i], got.tallies[i]), "the tally of chunk %d", i)
		}
		passes[want.passes]++

		for i, chunks := range [][]*treatmentv1.StemChunk{once, often} {
			b := decidedBatch(t, durable, int(seed)*2+i, begin, chunks)
			require.EqualValues(t, want.passes, b.GetPasses())
			requireSame(t, want.summary, b.GetSummary())
			list, err := results(t, durable, &inventoryv1.ListResultsRequest{BatchId: b.GetBatchId()})
			require.NoError(t, err)
			require.Len(t, list, len(chunks))
			for k, r := range list {
				requireSame(t, chunks[k], r.GetStems())
				requireSame(t, want.answers[k], r.GetPrescriptions())
			}
		}
	}
	assert.Len(t, passes, 2, "one pass and two are due now and then: %v", passes)
}
