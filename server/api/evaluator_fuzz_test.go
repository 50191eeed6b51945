package api_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

// Whatever is kept of a batch, an evaluator decides by it or says that it cannot; it
// never takes the server down, and never retries what will not get better.
func FuzzKeptBytes(f *testing.F) {
	law := fullLaw(f)
	known, err := shipped()
	require.NoError(f, err)
	e := api.NewEvaluator(api.Services{Catalogue: known, Current: func() api.Law { return law }})
	d := newDraw(2)
	begin := &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{{SiteId: "a", Place: district, AreaM2: ptr(20.0)}}}
	request, chunk := bytesOf(f, begin), bytesOf(f, chunkOf(1, "a", d.stems(40)))
	pinned, err := e.Pin(f.Context(), request, nil)
	require.NoError(f, err)
	run, err := e.Open(f.Context(), request, pinned, nil)
	require.NoError(f, err)
	answer, err := run.Answer(chunk, nil)
	require.NoError(f, err)
	sum, err := e.Sum(f.Context(), request, pinned, nil, each([][]byte{answer.Tally}))
	require.NoError(f, err)
	require.NotEmpty(f, sum.Shares)
	f.Add(request, pinned, sum.Shares, chunk, answer.Tally)
	f.Add(request, pinned, []byte(nil), chunk, []byte(nil))
	f.Fuzz(func(t *testing.T, request, pinned, shares, chunk, tally []byte) {
		run, err := e.Open(t.Context(), request, pinned, shares)
		requireFinal(t, err)
		if err != nil {
			return
		}
		_, err = run.Answer(chunk, nil)
		requireFinal(t, err)
		_, err = e.Sum(t.Context(), request, pinned, shares, each([][]byte{tally}))
		requireFinal(t, err)
		_, err = e.Pin(t.Context(), request, pinned)
		requireFinal(t, err)
	})
}

// requireFinal asks for an error that ends the batch, or leaves it to another server.
func requireFinal(t *testing.T, err error) {
	var refusal interface{ Refusal() string }
	var elsewhere interface{ Elsewhere() }
	if err != nil && !errors.As(err, &refusal) && !errors.As(err, &elsewhere) {
		require.NoError(t, err)
	}
}
