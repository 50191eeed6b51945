package api_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/testdata/many"
)

// The answers of a stream are the same however many chunks are proposed for at a time, on
// sites with room for all stems, for a part and for few; and none gets more than it may.
func TestProposersOfAStreamAgree(t *testing.T) {
	const rows = 60_000
	for _, part := range []float64{1, 200, 5_000} {
		var want [][]byte
		for _, atOnce := range []int{1, 2, 5} {
			t.Run(fmt.Sprintf("area over %g, %d at once", part, atOnce), func(t *testing.T) {
				api.Propose(t, atOnce)
				begin := many.Begin(rows)
				for _, s := range begin.Sites {
					s.AreaM2 = ptr(s.GetAreaM2() / part)
				}
				var got [][]byte
				var summary *treatmentv1.Summary
				each := func(r *treatmentv1.PrescribeStreamResponse) {
					data, err := proto.MarshalOptions{Deterministic: true}.Marshal(r)
					require.NoError(t, err)
					if got = append(got, data); r.GetSummary() != nil {
						summary = proto.CloneOf(r.GetSummary())
					}
				}
				require.NoError(t, prescribeAll(t, api.Services{}, &inventory{begin: begin, each: each}, rows, 0))
				if want == nil {
					want = got
				}
				assert.Equal(t, want, got)
				held := false
				for _, use := range summary.GetSiteUses() {
					require.LessOrEqual(t, use.GetUsedLbAePerAc(), use.GetLimitLbAePerAc()*(1+1e-9), "%v", use)
					held = held || use.GetSeasons() > 1
				}
				assert.Equal(t, part > 1, held, "stems are held for a later season")
			})
		}
	}
}
