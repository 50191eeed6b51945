package api_test

import (
	"context"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/server/water"
)

// direct is a stream without a connection: with one, the fuzzer's view of what an
// input reaches would depend on goroutines of the transport.
type direct struct {
	grpc.ServerStream
	messages []*treatmentv1.PrescribeStreamRequest
	answers  []*treatmentv1.PrescribeStreamResponse
}

func (d *direct) Recv() (*treatmentv1.PrescribeStreamRequest, error) {
	if len(d.messages) == 0 {
		return nil, io.EOF
	}
	m := d.messages[0]
	d.messages = d.messages[1:]
	return m, nil
}

func (d *direct) RecvMsg(m any) error { return receive(m, d) }

// receive receives a message of any type that holds one of a stream.
func receive(m any, from interface {
	Recv() (*treatmentv1.PrescribeStreamRequest, error)
}) error {
	q, err := from.Recv()
	if err == nil {
		proto.Reset(m.(proto.Message))
		proto.Merge(m.(proto.Message), q)
	}
	return err
}

func (*direct) Context() context.Context { return context.Background() }

func (d *direct) Send(a *treatmentv1.PrescribeStreamResponse) error {
	d.answers = append(d.answers, proto.CloneOf(a))
	return nil
}

// FuzzChunk sends whatever reads as a chunk: either it is refused with details, or
// every row of it is counted once.
func FuzzChunk(f *testing.F) {
	for seed := range uint64(4) {
		stems := newDraw(seed).stems(5)
		newDraw(seed + 100).place(stems)
		text, err := proto.Marshal(chunkOf(1, goodSite().SiteId, stems))
		require.NoError(f, err)
		f.Add(text)
	}
	known, err := shipped()
	require.NoError(f, err)
	law := fullLaw(f)
	layers := layersWith(f, streamLatitude)
	service := api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }, Water: func() *water.Layers { return layers }})
	f.Fuzz(func(t *testing.T, text []byte) {
		var rows treatmentv1.StemChunk
		if proto.Unmarshal(text, &rows) != nil {
			t.Skip("not a chunk")
		}
		d := &direct{messages: []*treatmentv1.PrescribeStreamRequest{
			begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}), chunk(&rows),
		}}
		if err := service.PrescribeStream(d); err != nil {
			details(t, err)
			return
		}
		requireCounted(t, columnar.Rows(&rows), d.answers[0].GetChunk(), d.answers[1].GetSummary().Totals)
	})
}

func requireCounted(t *testing.T, n int, got *treatmentv1.PrescriptionChunk, totals *treatmentv1.Totals) {
	t.Helper()
	assert.Equal(t, int64(n), totals.Rows)
	assert.Equal(t, totals.Rows, totals.Prescribed+totals.Deferred+totals.Undetermined+totals.Rejected)
	assert.Equal(t, int(totals.Rejected), len(got.Rejections))
	for _, column := range [][]int64{got.Stems, got.Cuts, got.CutUl, got.MixUl, got.ProductUl, got.CarrierUl, got.AdjuvantUl, got.DyeUl, got.AeUg, got.RateUgPerAc} {
		assert.Len(t, column, len(got.Stems))
	}
	assert.Len(t, got.Dose, n)
	assert.Len(t, got.Outcome, n)
	for _, dose := range got.Dose {
		assert.True(t, dose >= 0 && int(dose) <= len(got.Stems))
	}
	for i := range got.Stems {
		assert.Positive(t, got.MixUl[i])
	}
	for _, c := range got.ComputedWater {
		assert.Len(t, c.DistanceUm, n)
		assert.Len(t, c.Origin, n)
		assert.Len(t, c.AtLeast, n)
	}
	require.NoError(t, columnar.CheckPieces(got))
	for _, at := range got.Explanation {
		assert.Less(t, int(at), columnar.NumExplanations(got))
	}
}
