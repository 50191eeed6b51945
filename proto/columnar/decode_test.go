package columnar_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/testdata/many"
)

// requireDecoded holds Decode to protobuf (google.golang.org/protobuf, which knows nothing
// of it): the same chunk, or both refuse.
func requireDecoded(t require.TestingT, data []byte, into *treatmentv1.StemChunk) {
	requireReadBy(t, columnar.Decode, data, into)
}

func requireReadBy[M proto.Message](t require.TestingT, decode func([]byte, M) error, data []byte, into M) {
	want := into.ProtoReflect().New().Interface()
	refused := proto.Unmarshal(data, want)
	err := decode(data, into)
	require.Equal(t, refused == nil, err == nil, "%v, %v", refused, err)
	if err != nil {
		return
	}
	// Not a number is not equal to itself, so the encodings are compared.
	same := proto.MarshalOptions{Deterministic: true}
	a, err := same.Marshal(want)
	require.NoError(t, err)
	b, err := same.Marshal(into)
	require.NoError(t, err)
	require.Equal(t, a, b)
}

func TestChunksAreDecodedAsProtobufDecodesThem(t *testing.T) {
	used := &treatmentv1.StemChunk{}
	for c := range many.Chunks(7, 40_000, 7_001) {
		data, err := proto.Marshal(c)
		require.NoError(t, err)
		requireDecoded(t, data, used)
	}
	rapid.Check(t, func(t *rapid.T) {
		data, err := proto.Marshal(drawnChunk(t))
		require.NoError(t, err)
		requireDecoded(t, data, used)
		data = append(data, rapid.SampledFrom(oddities).Draw(t, "oddity")...)
		requireDecoded(t, data, used)
		requireDecoded(t, data[:rapid.IntRange(0, len(data)).Draw(t, "cut")], used)
	})
}

func TestAnswersAreDecodedAsProtobufDecodesThem(t *testing.T) {
	used := &treatmentv1.PrescriptionChunk{}
	rapid.Check(t, func(t *rapid.T) {
		data, err := proto.Marshal(drawnAnswers(t))
		require.NoError(t, err)
		requireReadBy(t, columnar.DecodeAnswers, data, used)
		data = append(data, rapid.SampledFrom(oddities).Draw(t, "oddity")...)
		requireReadBy(t, columnar.DecodeAnswers, data, used)
		requireReadBy(t, columnar.DecodeAnswers, data[:rapid.IntRange(0, len(data)).Draw(t, "cut")], used)
	})
}

// An answer keeps nothing of what it was read from, which is used again.
func TestAnswersOwnTheirPieces(t *testing.T) {
	c := &treatmentv1.PrescriptionChunk{Outcome: []byte{1}, Pieces: [][]byte{[]byte("first"), nil, []byte("second")}}
	data, err := proto.Marshal(c)
	require.NoError(t, err)
	got := &treatmentv1.PrescriptionChunk{}
	require.NoError(t, columnar.DecodeAnswers(data, got))
	clear(data)
	require.True(t, proto.Equal(c, got), "%v", got)
	_ = append(got.Pieces[0], '!')
	require.True(t, proto.Equal(c, got), "%v", got)
}

// oddities is what protobuf reads too: numbers one by one, in more bytes than they need,
// fields twice, unknown ones, truth that is not one.
var oddities = [][]byte{
	nil,
	protowire.AppendVarint(protowire.AppendTag(nil, 7, protowire.VarintType), 14),
	protowire.AppendBytes(protowire.AppendTag(nil, 7, protowire.BytesType), []byte{0x80, 0x00, 0x8e, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x00}),
	protowire.AppendBytes(protowire.AppendTag(nil, 7, protowire.BytesType), []byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x01}),
	protowire.AppendBytes(protowire.AppendTag(nil, 6, protowire.BytesType), []byte{1, 2}),
	protowire.AppendBytes(protowire.AppendTag(nil, 99, protowire.BytesType), []byte("unknown")),
	protowire.AppendBytes(protowire.AppendTag(nil, 40, protowire.BytesType), []byte("unknown")),
	protowire.AppendVarint(protowire.AppendTag(nil, 6, protowire.VarintType), 1),
	protowire.AppendBytes(protowire.AppendTag(nil, 3, protowire.BytesType), []byte{0xff}),
	protowire.AppendBytes(protowire.AppendTag(nil, 2, protowire.BytesType), []byte{0xff}),
	protowire.AppendBytes(protowire.AppendTag(nil, 22, protowire.BytesType), []byte{0x08, 0x04, 0x22, 0x02, 0x01, 0x05}),
	protowire.AppendBytes(protowire.AppendTag(nil, 22, protowire.BytesType), []byte{0x08, 0x04, 0x08, 0x05, 0x52, 0x01, 0x00}),
	protowire.AppendBytes(protowire.AppendTag(nil, 26, protowire.BytesType), make([]byte, 9)),
	protowire.AppendBytes(protowire.AppendTag(nil, 29, protowire.BytesType), []byte{0x08}),
	protowire.AppendFixed32(protowire.AppendTag(nil, 30, protowire.Fixed32Type), 9),
}

func drawnChunk(t *rapid.T) *treatmentv1.StemChunk {
	numbers := func(label string) []int64 {
		return rapid.SliceOfN(rapid.OneOf(rapid.Just(int64(-1)), rapid.Int64Range(0, 1<<42), rapid.Int64()), 0, 9).Draw(t, label)
	}
	words := func(label string) []byte { return rapid.SliceOfN(rapid.Byte(), 0, 9).Draw(t, label) }
	c := &treatmentv1.StemChunk{
		FirstRow: rapid.Int64().Draw(t, "first"), Words: rapid.SliceOfN(rapid.StringN(0, 5, -1), 0, 4).Draw(t, "words"),
		Site: rapid.SliceOfN(rapid.Int32(), 0, 9).Draw(t, "site"), Species: rapid.SliceOfN(rapid.Int32Range(-1, 300), 0, 9).Draw(t, "species"),
		Form: words("form"), Desirable: words("desirable"), LandUse: words("use"), Soil: words("soil"), Bark: words("bark"),
		RootCheck: words("check"), SeedBearing: words("seed"),
		DiameterUm: numbers("diameter"), HeightUm: numbers("height"), Count: numbers("count"), StemsPerHa: numbers("density"),
		AreaMm2: numbers("area"), CrownWidthUm: numbers("crown"), LargerCount: numbers("larger"), LargerDiameterUm: numbers("larger diameter"),
		SlopePermille: numbers("slope"), OtherWaterBeyondUm: numbers("water"), OtherPlacesBeyondUm: numbers("places"),
		LatitudeDeg:  rapid.SliceOfN(rapid.OneOf(rapid.Just(math.NaN()), rapid.Float64()), 0, 9).Draw(t, "latitude"),
		LongitudeDeg: rapid.SliceOfN(rapid.Float64(), 0, 9).Draw(t, "longitude"), CoordinateUncertaintyUm: numbers("uncertainty"),
	}
	columnar.SetIDs(c, rapid.SliceOfN(rapid.String(), 0, 9).Draw(t, "ids")...)
	for range rapid.IntRange(0, 3).Draw(t, "waters") {
		c.Water = append(c.Water, &treatmentv1.WaterColumn{
			WaterClass: commonv1.WaterClass(rapid.Int32().Draw(t, "class")), DistanceUm: numbers("distance"), Origin: words("origin"),
			AtLeast: rapid.SliceOfN(rapid.Bool(), 0, 9).Draw(t, "at least"), State: words("state"),
		})
	}
	for range rapid.IntRange(0, 2).Draw(t, "places of a class") {
		c.Places = append(c.Places, &treatmentv1.PlaceColumn{PlaceClass: commonv1.PlaceClass(rapid.Int32Range(0, 9).Draw(t, "class")), DistanceUm: numbers("distance")})
	}
	for range rapid.IntRange(0, 2).Draw(t, "outlines") {
		c.Outlines = append(c.Outlines, &treatmentv1.RowOutline{Index: rapid.Int32().Draw(t, "index"), Rings: []*treatmentv1.Ring{{LatitudeDeg: []float64{1, 2}}}})
	}
	return c
}

// Every field is read, one that is added some day neither lost nor read wrongly.
func TestEveryFieldIsDecoded(t *testing.T) {
	requireEveryFieldRead(t, columnar.Decode, &treatmentv1.StemChunk{})
	requireEveryFieldRead(t, columnar.DecodeAnswers, &treatmentv1.PrescriptionChunk{})
}

// A response that is received into once more is what a new one would be.
func TestResponsesAreReceivedIntoUsedOnes(t *testing.T) {
	used, codec := &treatmentv1.PrescribeStreamResponse{}, columnar.Codec()
	rapid.Check(t, func(t *rapid.T) {
		sent := &treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: drawnAnswers(t)}}
		if rapid.IntRange(0, 4).Draw(t, "the end") == 0 {
			sent.Message = &treatmentv1.PrescribeStreamResponse_Summary{Summary: &treatmentv1.Summary{Totals: &treatmentv1.Totals{Rows: 7}}}
		}
		data, err := proto.Marshal(sent)
		require.NoError(t, err)
		before := used.GetChunk()
		require.NoError(t, codec.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data)}, used))
		require.True(t, proto.Equal(sent, used), "%v\n%v", sent, used)
		if before != nil && used.GetChunk() != nil {
			require.Same(t, before, used.GetChunk())
		}
	})
}

func requireEveryFieldRead[M proto.Message](t *testing.T, decode func([]byte, M) error, used M) {
	fields := used.ProtoReflect().Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		for _, body := range [][]byte{{}, {1}, {0x80, 1}, {1, 2, 3, 4, 5, 6, 7, 8}, {0x80, 1, 0xff, 2, 0x80, 3, 0xff, 4, 5}} {
			requireReadBy(t, decode, protowire.AppendBytes(protowire.AppendTag(nil, f.Number(), protowire.BytesType), body), used)
		}
		requireReadBy(t, decode, protowire.AppendVarint(protowire.AppendTag(nil, f.Number(), protowire.VarintType), 3), used)
		requireReadBy(t, decode, nil, used) // nothing of the field is left
	}
}

func FuzzDecode(f *testing.F) {
	for c := range many.Chunks(3, 20, 7) {
		data, err := proto.Marshal(c)
		require.NoError(f, err)
		f.Add(data)
	}
	for _, o := range oddities {
		f.Add(o)
	}
	used, answers := &treatmentv1.StemChunk{}, &treatmentv1.PrescriptionChunk{}
	f.Fuzz(func(t *testing.T, data []byte) {
		requireDecoded(t, data, used)
		requireReadBy(t, columnar.DecodeAnswers, data, answers)
	})
}

// The numbers of a column are told apart whatever their lengths, wherever they lie.
func TestNumbersOfAllLengthsAreDecoded(t *testing.T) {
	used := &treatmentv1.StemChunk{}
	rapid.Check(t, func(t *rapid.T) {
		lengths := rapid.SliceOfN(rapid.IntRange(0, 63), 0, 600).Draw(t, "bits")
		alike := rapid.IntRange(0, 63).Draw(t, "as many as")
		c := &treatmentv1.StemChunk{}
		for i, bits := range lengths {
			c.HeightUm = append(c.HeightUm, int64(1)<<min(bits, alike)-int64(i%2))
		}
		data, err := proto.Marshal(c)
		require.NoError(t, err)
		requireDecoded(t, data, used)
		requireEncoded(t, columnar.Append, c)
	})
}

func BenchmarkDecode(b *testing.B) {
	var data []byte
	for c := range many.Chunks(1, 16_384, 16_384) {
		data, _ = proto.Marshal(c)
	}
	b.Run("protobuf", func(b *testing.B) {
		for b.Loop() {
			if err := proto.Unmarshal(data, &treatmentv1.StemChunk{}); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/16_384, "ns/row")
	})
	b.Run("columnar", func(b *testing.B) {
		used := &treatmentv1.StemChunk{}
		for b.Loop() {
			if err := columnar.Decode(data, used); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/16_384, "ns/row")
	})
}
