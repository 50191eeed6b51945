package api_test

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

// pipelined sends all messages of a stream, and waits for no answer.
func pipelined(tb testing.TB, c clients, messages []*treatmentv1.PrescribeStreamRequest) []*treatmentv1.PrescribeStreamResponse {
	tb.Helper()
	stream, err := c.PrescribeStream(tb.Context())
	require.NoError(tb, err)
	go func() {
		for _, m := range messages {
			if stream.Send(m) != nil {
				return // the error is what Recv gives
			}
		}
		_ = stream.CloseSend()
	}()
	var answers []*treatmentv1.PrescribeStreamResponse
	for {
		a, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return answers
		}
		require.NoError(tb, err)
		answers = append(answers, a)
	}
}

// Chunks that follow each other at once, read out of memory that is used again by several
// goroutines side by side, are answered row by row as single stems are.
func TestPipelinedChunksAreAnsweredAsPrescribeDoes(t *testing.T) {
	law := edition(lawOf(nation(t), state(t), creek(t), fen(t)), "one")
	with := api.Services{Current: func() api.Law { return law }}
	quick := grpc.WithDefaultCallOptions(grpc.ForceCodecV2(columnar.Codec()))
	served := map[string]clients{
		"plain": serveWith(t, with, nil), "codec of the server": serveAll(t, with), "codec of both": serveWith(t, with, api.Options(), quick),
	}
	d, sites := newDraw(5), grantedSites(6)
	stems := d.stems(2_000)
	for i, s := range stems {
		if s.StemId != "" {
			s.StemId = fmt.Sprint(strings.Repeat("x", i%30), i) // no two chunks have their ids at the same places
		}
	}
	messages := []*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: sites})}
	of, bySite := make([]int, len(stems)), make([][]*treatmentv1.Stem, len(sites))
	var ids [][]string
	for first := 0; first < len(stems); {
		part := stems[first:min(first+1+d.IntN(60), len(stems))]
		c := chunkOf(int64(first+1), sites[0].SiteId, part)
		words := int32(len(c.Words))
		some := min(len(sites), 1+first/300) // the others have their first rows in later chunks
		for _, s := range sites[:some] {
			c.Words = append(c.Words, s.SiteId)
		}
		for i := range part {
			at := d.IntN(some)
			c.Site[i], of[first+i] = words+int32(at), at
			bySite[at] = append(bySite[at], part[i])
		}
		messages, ids, first = append(messages, chunk(c)), append(ids, columnar.IDs(c)), first+len(part)
	}
	var want []*answeredRow
	alone := make([]*answered, len(sites))
	for i, s := range sites {
		alone[i] = prescribed(t, served["plain"], s, bySite[i])
	}
	next := make([]int, len(sites))
	for _, at := range of {
		want = append(want, alone[at].Prescriptions[next[at]])
		next[at]++
	}
	ways := map[string][]*treatmentv1.PrescribeStreamRequest{"all sites first": messages, "sites as they come": sitesAsTheyCome(messages)}
	require.Greater(t, len(ways["sites as they come"]), len(messages)+1)
	for name, c := range served {
		for run := range 4 {
			proposers := []int{1, 4}[run%2]
			way := []string{"all sites first", "sites as they come"}[run/2]
			t.Run(fmt.Sprintf("%s, %s, %d proposers", name, way, proposers), func(t *testing.T) {
				api.Propose(t, proposers)
				got := pipelined(t, c, ways[way])
				require.Len(t, got, len(messages), "an answer a chunk, then the summary")
				row := 0
				for i, a := range got[:len(got)-1] {
					for _, one := range rowsOf(a.GetChunk(), ids[i]) {
						requireSameRow(t, want[row], one)
						row++
					}
				}
				require.Equal(t, len(stems), row)
			})
		}
	}
}

// sitesAsTheyCome is the same stream, with each site stated before the first chunk that names it.
func sitesAsTheyCome(messages []*treatmentv1.PrescribeStreamRequest) []*treatmentv1.PrescribeStreamRequest {
	first := proto.CloneOf(messages[0].GetBegin())
	due := first.Sites[1:]
	first.Sites = first.Sites[:1]
	list := []*treatmentv1.PrescribeStreamRequest{begin(first)}
	for _, m := range messages[1:] {
		n := 0
		for n < len(due) && slices.Contains(m.GetChunk().GetWords(), due[n].GetSiteId()) {
			n++
		}
		if n > 0 {
			list, due = append(list, more(due[:n]...)), due[n:]
		}
		list = append(list, m)
	}
	return list
}
