package api_test

import (
	"bytes"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

// faultyRows are rows of which every word and number is none.
func faultyRows(n int) *treatmentv1.StemChunk {
	numbers, words := slices.Repeat([]int64{-7}, n), bytes.Repeat([]byte{0xff}, n)
	return &treatmentv1.StemChunk{
		FirstRow: 1, Words: []string{"\x01 is nobody's name"}, StemIdEnds: make([]uint32, n), Site: make([]int32, n), Species: make([]int32, n),
		Form: words, Desirable: words, LandUse: words, Soil: words, Bark: words, RootCheck: words, SeedBearing: words,
		DiameterUm: numbers, HeightUm: numbers, Count: numbers, StemsPerHa: numbers, AreaMm2: numbers,
		CrownWidthUm: numbers, LargerCount: numbers, LargerDiameterUm: numbers, SlopePermille: numbers,
	}
}

func bytesTold(list []*treatmentv1.Rejection) (n int) {
	for _, r := range list {
		for _, f := range r.Faults {
			n += len(f.Field) + len(f.Problem)
		}
	}
	return n
}

// What an answer tells of faults is bounded: rows in front are told all of theirs, and each
// of the others is rejected and listed. A batch says the same.
func TestFaultsOfAChunkAreBounded(t *testing.T) {
	const rows, limit = 8_000, 4 << 20
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	service := api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }})
	of := &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}
	answer := func(c *treatmentv1.StemChunk) *treatmentv1.PrescriptionChunk {
		d := &direct{messages: []*treatmentv1.PrescribeStreamRequest{begin(of), chunk(c)}}
		require.NoError(t, service.PrescribeStream(d))
		requireCounted(t, len(c.Site), d.answers[0].GetChunk(), d.answers[1].GetSummary().Totals)
		return d.answers[0].GetChunk()
	}
	got, alone := answer(faultyRows(rows)), answer(faultyRows(1))
	require.Len(t, got.Rejections, rows)
	assert.Equal(t, bytes.Repeat([]byte{byte(treatmentv1.Outcome_OUTCOME_REJECTED)}, rows), got.Outcome)
	require.Greater(t, len(alone.Rejections[0].Faults), 15)
	full := slices.IndexFunc(got.Rejections, func(r *treatmentv1.Rejection) bool { return len(r.Faults) == 1 })
	row := bytesTold(alone.Rejections)
	require.Equal(t, (limit+row-1)/row, full, "as many as begin within the limit")
	assert.Greater(t, rows*row, 3*limit, "without one there is far more")
	for i, r := range got.Rejections {
		require.Equal(t, int64(i+1), r.Row)
		if i < full {
			require.Len(t, r.Faults, len(alone.Rejections[0].Faults))
			continue
		}
		require.Len(t, r.Faults, 1)
		if i == full {
			require.Contains(t, r.Faults[0].Problem, "4 MiB")
			continue
		}
		require.Equal(t, "is rejected, too: not listed", r.Faults[0].Problem)
	}
	largest := answer(faultyRows(65_536))
	assert.Less(t, proto.Size(largest), 2*limit, "with all rows that there can be")
	for i, f := range alone.Rejections[0].Faults {
		requireSame(t, f, got.Rejections[full-1].Faults[i])
	}

	e := evaluatorOf(t, law)
	pinned, err := e.Pin(t.Context(), bytesOf(t, of), nil)
	require.NoError(t, err)
	run, err := e.Open(t.Context(), bytesOf(t, of), pinned, nil)
	require.NoError(t, err)
	defer run.Close()
	a, err := run.Answer(bytesOf(t, faultyRows(rows)), nil)
	require.NoError(t, err)
	var batched treatmentv1.PrescriptionChunk
	require.NoError(t, proto.Unmarshal(a.Result, &batched))
	assert.True(t, proto.Equal(got, &batched))
}

// Faults are written when a chunk's turn to be sent has come, and dropped once it is: however
// many chunks are under way, one at a time holds any.
func TestFaultsAreNotKept(t *testing.T) {
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	service := api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }})
	of := &treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}
	settled, listed, sent := service.Told(t, of, faultyRows(10))
	assert.Equal(t, []int{0, 10, 0}, []int{settled, listed, sent})

	api.Propose(t, 4)
	d := &keeping{direct: direct{messages: []*treatmentv1.PrescribeStreamRequest{begin(of)}}}
	for i := range 20 {
		c := faultyRows(10)
		c.FirstRow += int64(10 * i)
		d.messages = append(d.messages, chunk(c))
	}
	require.NoError(t, service.PrescribeStream(d))
	require.Equal(t, 200, d.told)
	for _, c := range d.sent {
		assert.Empty(t, c.Rejections)
	}
}

// keeping keeps what was sent, in the stream's own memory.
type keeping struct {
	direct
	sent []*treatmentv1.PrescriptionChunk
	told int
}

func (k *keeping) Send(a *treatmentv1.PrescribeStreamResponse) error {
	if c := a.GetChunk(); c != nil {
		k.sent, k.told = append(k.sent, c), k.told+len(c.Rejections)
	}
	return nil
}

func (k *keeping) RecvMsg(m any) error { return receive(m, k) }
