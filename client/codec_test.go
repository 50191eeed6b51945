package client_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
)

// What the stream's own reading gives is what protobuf's gives, whatever the answer.
func TestAnswersAreReadAsProtobufReadsThem(t *testing.T) {
	codec := client.NewSharing()
	rapid.Check(t, func(t *rapid.T) {
		data, err := proto.Marshal(drawnResponse(t))
		require.NoError(t, err)
		data = append(data, rapid.SampledFrom([]string{"", "\x9a\x3f\x01x"}).Draw(t, "unknown field")...)
		want, got := &treatmentv1.PrescribeStreamResponse{}, &treatmentv1.PrescribeStreamResponse{}
		require.NoError(t, proto.Unmarshal(data, want))
		half := rapid.IntRange(0, len(data)).Draw(t, "half")
		require.NoError(t, codec.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data[:half]), mem.SliceBuffer(data[half:])}, got))
		require.True(t, proto.Equal(want, got), "%v\n%v", want, got)
	})
}

func drawnResponse(t *rapid.T) *treatmentv1.PrescribeStreamResponse {
	if rapid.IntRange(0, 4).Draw(t, "kind") == 0 {
		return &treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Summary{
			Summary: &treatmentv1.Summary{Totals: &treatmentv1.Totals{Rows: 5}}}}
	}
	numbers := rapid.SliceOfN(rapid.Int64Range(-1, 1<<40), 0, 5)
	chunk := &treatmentv1.PrescriptionChunk{
		FirstRow: rapid.Int64().Draw(t, "first"), MixUl: numbers.Draw(t, "mix"), RateUgPerAc: numbers.Draw(t, "rate"),
		ComputedWater: []*treatmentv1.WaterColumn{{WaterClass: commonv1.WaterClass_WATER_CLASS_LAKE, DistanceUm: numbers.Draw(t, "lake")}},
	}
	for range rapid.IntRange(0, 4).Draw(t, "explanations") {
		word := func(label string) string { return rapid.SampledFrom([]string{"", "a", "b"}).Draw(t, label) }
		e := &treatmentv1.Explanation{Why: word("why"), Steps: []string{word("step")}, SecondPass: &treatmentv1.Choice{Active: word("active")}}
		for range rapid.IntRange(0, 2).Draw(t, "parts") {
			e.Alternatives = append(e.Alternatives, &treatmentv1.Alternative{FormulationId: word("id"), Reasons: []string{word("reason")}})
			e.Findings = append(e.Findings, &rulesetv1.Finding{Text: word("text"), RuleSet: &commonv1.RuleSetRef{Digest: word("digest")}})
		}
		chunk.Explanations = append(chunk.Explanations, e)
	}
	return &treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: chunk}}
}

func TestEqualExplanationsAreOne(t *testing.T) {
	codec := client.NewSharing()
	read := func(whys ...string) []*treatmentv1.Explanation {
		chunk := &treatmentv1.PrescriptionChunk{FirstRow: 1}
		for _, why := range whys {
			chunk.Explanations = append(chunk.Explanations, &treatmentv1.Explanation{Why: why})
		}
		data, err := proto.Marshal(&treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: chunk}})
		require.NoError(t, err)
		got := &treatmentv1.PrescribeStreamResponse{}
		require.NoError(t, codec.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data)}, got))
		return got.GetChunk().GetExplanations()
	}
	first, second := read("a", "b", "a"), read("b", "c")
	assert.Same(t, first[0], first[2])
	assert.Same(t, first[1], second[0])
	assert.Equal(t, "c", second[1].GetWhy())
}

func TestExplanationsThatAreSentOnceAreRecalled(t *testing.T) {
	codec := client.NewSharing()
	read := func(ids []int32, whys ...string) ([]string, error) {
		chunk := &treatmentv1.PrescriptionChunk{FirstRow: 1, ExplanationIds: ids}
		for _, why := range whys {
			chunk.Explanations = append(chunk.Explanations, &treatmentv1.Explanation{Why: why})
		}
		data, err := proto.Marshal(&treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: chunk}})
		require.NoError(t, err)
		got := &treatmentv1.PrescribeStreamResponse{}
		err = codec.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data)}, got)
		var list []string
		for _, e := range got.GetChunk().GetExplanations() {
			list = append(list, e.GetWhy())
		}
		return list, err
	}
	for _, c := range []struct {
		ids        []int32
		sent, want []string
	}{
		{[]int32{1, 2}, []string{"a", "b"}, []string{"a", "b"}},
		{[]int32{2, 1, 3}, []string{"", "", "c"}, []string{"b", "a", "c"}},
		{[]int32{1, 2}, []string{"d", ""}, []string{"d", "b"}}, // an id that is used anew
		{[]int32{1}, []string{""}, []string{"d"}},
	} {
		got, err := read(c.ids, c.sent...)
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
	_, err := read([]int32{9}, "")
	assert.ErrorContains(t, err, "explanation 9 without its content")
	_, err = read([]int32{1, 2}, "")
	assert.ErrorContains(t, err, "1 explanations with 2 ids")
}

// FuzzAnswer reads anything as an answer: what protobuf refuses is refused.
func FuzzAnswer(f *testing.F) {
	data, err := proto.Marshal(&treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{
		Chunk: &treatmentv1.PrescriptionChunk{FirstRow: 1, Explanations: []*treatmentv1.Explanation{{Why: "a"}}, MixUl: []int64{1}}}})
	require.NoError(f, err)
	f.Add(data)
	f.Add([]byte("\x0a\x02\x1a\x05"))
	f.Fuzz(func(t *testing.T, data []byte) {
		want, got := &treatmentv1.PrescribeStreamResponse{}, &treatmentv1.PrescribeStreamResponse{}
		refused := proto.Unmarshal(data, want)
		if len(want.GetChunk().GetExplanationIds()) > 0 {
			return // these are put together from several answers
		}
		err := client.NewSharing().Unmarshal(mem.BufferSlice{mem.SliceBuffer(data)}, got)
		require.Equal(t, refused == nil, err == nil, "%v, %v", refused, err)
		if err == nil {
			require.True(t, proto.Equal(want, got))
		}
	})
}
