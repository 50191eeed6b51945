package columnar_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/testdata/many"
)

// requireEncoded holds Append to protobuf (google.golang.org/protobuf, which knows nothing
// of it): the same bytes, or both refuse.
func requireEncoded[M proto.Message](t require.TestingT, by func([]byte, M) ([]byte, error), m M) {
	want, refused := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	got, err := by([]byte("before"), m)
	require.Equal(t, refused == nil, err == nil, "%v, %v", refused, err)
	if err == nil {
		require.Equal(t, "before"+string(want), string(got))
	}
}

func TestChunksAreEncodedAsProtobufEncodesThem(t *testing.T) {
	requireEncoded(t, columnar.Append, nil)
	for c := range many.Chunks(7, 40_000, 7_001) {
		requireEncoded(t, columnar.Append, c)
	}
	rapid.Check(t, func(t *rapid.T) {
		c := drawnChunk(t)
		requireEncoded(t, columnar.Append, c)
		c.StemIds += "\xff"
		requireEncoded(t, columnar.Append, c)
	})
}

func TestAnswersAreEncodedAsProtobufEncodesThem(t *testing.T) {
	requireEncoded(t, columnar.AppendAnswers, nil)
	rapid.Check(t, func(t *rapid.T) { requireEncoded(t, columnar.AppendAnswers, drawnAnswers(t)) })
}

func drawnAnswers(t *rapid.T) *treatmentv1.PrescriptionChunk {
	numbers := func(label string) []int64 {
		return rapid.SliceOfN(rapid.OneOf(rapid.Just(int64(-1)), rapid.Int64Range(0, 1<<42), rapid.Int64()), 0, 19).Draw(t, label)
	}
	places := func(label string) []int32 {
		return rapid.SliceOfN(rapid.OneOf(rapid.Just(int32(-1)), rapid.Int32Range(0, 300), rapid.Int32()), 0, 19).Draw(t, label)
	}
	return &treatmentv1.PrescriptionChunk{
		FirstRow: rapid.Int64().Draw(t, "first"), Outcome: rapid.SliceOf(rapid.Byte()).Draw(t, "outcome"),
		Pieces:      rapid.SliceOfN(rapid.SliceOf(rapid.Byte()), 0, 4).Draw(t, "pieces"),
		Explanation: places("explanation"), ExplanationPieces: places("pieces of explanations"), ExplanationEnds: places("ends"), Dose: places("dose"),
		Stems: numbers("stems"), Cuts: numbers("cuts"), CutUl: numbers("cut"), MixUl: numbers("mix"), ProductUl: numbers("product"),
		CarrierUl: numbers("carrier"), AdjuvantUl: numbers("adjuvant"), DyeUl: numbers("dye"), AeUg: numbers("ae"), RateUgPerAc: numbers("rate"),
		SecondDoses:   []*treatmentv1.SecondDose{{Row: rapid.Int64().Draw(t, "row"), Dose: &treatmentv1.Dose{}}},
		Rejections:    []*treatmentv1.Rejection{{Row: 3, Faults: []*treatmentv1.FieldFault{{Field: rapid.String().Draw(t, "field")}}}, nil},
		ComputedWater: drawnChunk(t).Water,
	}
}

// Every field is written, one that is added some day too.
func TestEveryFieldIsEncoded(t *testing.T) {
	eachFieldAlone(t, func(m *treatmentv1.StemChunk) { requireEncoded(t, columnar.Append, m) })
	eachFieldAlone(t, func(m *treatmentv1.PrescriptionChunk) { requireEncoded(t, columnar.AppendAnswers, m) })
}

// eachFieldAlone gives messages that have one field each, and one with a field that nobody
// knows, in the message itself and in those within it.
func eachFieldAlone[M proto.Message](t *testing.T, check func(M)) {
	var none M
	kind := none.ProtoReflect().Type()
	unknown := protowire.AppendVarint(protowire.AppendTag(nil, 1_000, protowire.VarintType), 3)
	fields := kind.Descriptor().Fields()
	for i := range fields.Len() {
		m := kind.New()
		f := fields.Get(i)
		if !f.IsList() {
			m.Set(f, valueOf(t, f, m.NewField(f)))
		} else {
			list := m.Mutable(f).List()
			for range 3 {
				v := valueOf(t, f, list.NewElement())
				if f.Message() != nil {
					v.Message().SetUnknown(unknown)
				}
				list.Append(v)
			}
		}
		check(m.Interface().(M))
		m.SetUnknown(unknown)
		check(m.Interface().(M))
	}
}

func valueOf(t *testing.T, f protoreflect.FieldDescriptor, zero protoreflect.Value) protoreflect.Value {
	switch f.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString("text")
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes([]byte{1, 200})
	case protoreflect.MessageKind:
		return zero
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(1.5)
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(-70)
	case protoreflect.Int64Kind, protoreflect.Sint64Kind:
		return protoreflect.ValueOfInt64(-70_000)
	case protoreflect.Fixed32Kind:
		return protoreflect.ValueOfUint32(7)
	}
	require.Fail(t, "a field of another kind", "%s", f.FullName())
	return zero
}

func BenchmarkEncode(b *testing.B) {
	var chunk *treatmentv1.StemChunk
	for c := range many.Chunks(1, 16_384, 16_384) {
		chunk = c
	}
	var text []byte
	b.Run("protobuf", func(b *testing.B) {
		for b.Loop() {
			text, _ = proto.MarshalOptions{}.MarshalAppend(text[:0], chunk)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/16_384, "ns/row")
	})
	b.Run("columnar", func(b *testing.B) {
		for b.Loop() {
			text, _ = columnar.Append(text[:0], chunk)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/16_384, "ns/row")
	})
}

// Every field of an explanation comes back, one that is added some day too.
func TestEveryFieldOfAnExplanationComesBack(t *testing.T) {
	eachFieldAlone(t, func(e *treatmentv1.Explanation) {
		if len(e.ProtoReflect().GetUnknown()) > 0 {
			return
		}
		c := &treatmentv1.PrescriptionChunk{}
		_, err := columnar.Add(c, e)
		require.NoError(t, err)
		got, err := (&columnar.Explanations{}).Of(c)
		require.NoError(t, err)
		require.Len(t, got, 1)
		require.True(t, proto.Equal(e, got[0]), "%v\n%v", e, got[0])
	})
}
