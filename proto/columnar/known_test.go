package columnar_test

import (
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	"example.org/rootward/proto/columnar"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// requireAnswer holds what a codec reads to protobuf (google.golang.org/protobuf, which
// knows nothing of it): the same answer, or both refuse.
func requireAnswer(t require.TestingT, codec encoding.CodecV2, data []byte) *treatmentv1.PrescribeResponse {
	want, got := &treatmentv1.PrescribeResponse{}, &treatmentv1.PrescribeResponse{Summary: &treatmentv1.Summary{}}
	refused := proto.Unmarshal(data, want)
	err := codec.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data)}, got)
	require.Equal(t, refused == nil, err == nil, "%v, %v", refused, err)
	if err != nil {
		return nil
	}
	// Not a number is not equal to itself, so the encodings are compared.
	a, err := proto.MarshalOptions{Deterministic: true}.Marshal(want)
	require.NoError(t, err)
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(got)
	require.NoError(t, err)
	require.Equal(t, a, b)
	return got
}

func TestAnswersAreReadAsProtobufReadsThem(t *testing.T) {
	codec := columnar.Codec()
	rapid.Check(t, func(t *rapid.T) {
		answer := &treatmentv1.PrescribeResponse{}
		draw(t, answer.ProtoReflect())
		data, err := proto.Marshal(answer)
		require.NoError(t, err)
		spoil(requireAnswer(t, codec, data).ProtoReflect()) // an answer is its reader's
		requireAnswer(t, codec, data)
		data = append(data, rapid.SampledFrom(strangeAnswers).Draw(t, "oddity")...)
		requireAnswer(t, codec, data)
		requireAnswer(t, codec, data)
		requireAnswer(t, codec, data[:rapid.IntRange(0, len(data)).Draw(t, "cut")])
		if len(data) > 0 {
			data[rapid.IntRange(0, len(data)-1).Draw(t, "place")] = rapid.Byte().Draw(t, "another")
			requireAnswer(t, codec, data)
		}
	})
}

// strangeAnswers are what else protobuf reads or refuses: a summary in parts, between
// explanations, fields of another kind, unknown ones, texts that are none.
var strangeAnswers = func() [][]byte {
	field := func(number protowire.Number, of ...byte) []byte {
		return protowire.AppendBytes(protowire.AppendTag(nil, number, protowire.BytesType), of)
	}
	group := func(number protowire.Number) []byte {
		return protowire.AppendTag(protowire.AppendTag(nil, number, protowire.StartGroupType), number, protowire.EndGroupType)
	}
	return [][]byte{
		nil,
		append(field(2, 0x0a, 2, 8, 1), append(field(3, 0x12, 1, 'a'), field(2, 0x0a, 2, 0x10, 1)...)...),
		field(3),
		field(3, field(5, append(field(1, 8, 1), field(1, 0x10, 1)...)...)...),
		field(3, field(2, 0xff)...),
		field(3, field(50, 1)...),
		field(3, field(4, field(50, 1)...)...),
		field(3, field(4, field(1, field(50, 1)...)...)...),
		field(3, field(4, 0xff)...),
		field(50, 1),
		protowire.AppendVarint(protowire.AppendTag(nil, 3, protowire.VarintType), 1),
		group(3),
		{3 << 3},
		{3<<3 | 3},
		{3<<3 | 4},
		{3<<3 | 7},
		{0, 0},
	}
}()

// draw fills a message with anything that it can hold, its own messages included.
func draw(t *rapid.T, m protoreflect.Message) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		switch f := fields.Get(i); {
		case rapid.IntRange(0, 2).Draw(t, "absent") == 0:
		case f.IsList():
			list := m.Mutable(f).List()
			for range rapid.IntRange(0, 3).Draw(t, "length") {
				list.Append(drawnValue(t, f, list.NewElement))
			}
		default:
			m.Set(f, drawnValue(t, f, func() protoreflect.Value { return m.NewField(f) }))
		}
	}
}

func drawnValue(t *rapid.T, f protoreflect.FieldDescriptor, zero func() protoreflect.Value) protoreflect.Value {
	switch f.Kind() {
	case protoreflect.MessageKind:
		v := zero()
		draw(t, v.Message())
		return v
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(protoreflect.EnumNumber(rapid.Int32().Draw(t, "word")))
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(rapid.StringN(0, 5, -1).Draw(t, "text"))
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes(rapid.SliceOfN(rapid.Byte(), 0, 5).Draw(t, "bytes"))
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(rapid.Bool().Draw(t, "truth"))
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(rapid.Float64().Draw(t, "number"))
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(rapid.Int32().Draw(t, "number"))
	case protoreflect.Int64Kind:
		return protoreflect.ValueOfInt64(rapid.Int64().Draw(t, "number"))
	}
	require.Fail(t, "a field of another kind", "%s", f.FullName())
	return protoreflect.Value{}
}

// spoil changes all that a message holds.
func spoil(m protoreflect.Message) {
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		if f.IsList() {
			for list, i := v.List(), 0; i < list.Len(); i++ {
				if f.Message() != nil {
					spoil(list.Get(i).Message())
				} else {
					list.Set(i, protoreflect.ValueOfString("spoilt"))
				}
			}
		} else if f.Message() != nil {
			spoil(v.Message())
		}
		m.Clear(f)
		return true
	})
}

// Every field of an explanation is copied, one that is added some day too, and what only a
// newer server knows is kept.
func TestEveryFieldOfAKnownExplanationIsRead(t *testing.T) {
	codec := columnar.Codec()
	eachFieldAlone(t, func(e *treatmentv1.Explanation) {
		data, err := proto.Marshal(&treatmentv1.PrescribeResponse{Explanations: []*treatmentv1.Explanation{e, e}})
		require.NoError(t, err)
		requireAnswer(t, codec, data)
	})
}

// However many explanations there are, each is read right, and those that came before are
// not kept for ever.
func TestManyExplanationsAreReadOneAfterTheOther(t *testing.T) {
	codec := columnar.Codec()
	long := strings.Repeat("a long reason ", 10_000)
	for i := range 40 {
		answer := &treatmentv1.PrescribeResponse{Explanations: []*treatmentv1.Explanation{{Why: long[:len(long)-i%20]}}}
		data, err := proto.Marshal(answer)
		require.NoError(t, err)
		requireAnswer(t, codec, data)
	}
	huge := &treatmentv1.PrescribeResponse{Explanations: []*treatmentv1.Explanation{{Why: strings.Repeat(long, 10)}}}
	data, err := proto.Marshal(huge)
	require.NoError(t, err)
	requireAnswer(t, codec, data)
}

// Readers beside each other have nothing in common: the race detector looks on.
func TestAnswersAreReadSideBySide(t *testing.T) {
	codec := columnar.Codec()
	var answers [][]byte
	rapid.Check(t, func(t *rapid.T) {
		m := &treatmentv1.PrescribeResponse{}
		draw(t, m.ProtoReflect())
		data, err := proto.Marshal(m)
		require.NoError(t, err)
		answers = append(answers, data)
	})
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			for _, data := range answers {
				got := &treatmentv1.PrescribeResponse{}
				if assert.NoError(t, codec.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data)}, got)) {
					want := &treatmentv1.PrescribeResponse{}
					assert.NoError(t, proto.Unmarshal(data, want))
					assert.Equal(t, encodedOf(t, want), encodedOf(t, got))
					spoil(got.ProtoReflect())
				}
			}
		})
	}
	group.Wait()
}

func encodedOf(t *testing.T, m proto.Message) string {
	data, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	assert.NoError(t, err)
	return string(data)
}

// What a codec keeps is bounded, also of a server that writes very many messages into few
// bytes.
func TestWhatIsKeptOfAnswersIsBounded(t *testing.T) {
	codec := columnar.Codec()
	read := func(findings int) {
		e := &treatmentv1.Explanation{Findings: make([]*rulesetv1.Finding, findings)}
		for i := range e.Findings {
			e.Findings[i] = &rulesetv1.Finding{}
		}
		data, err := proto.Marshal(&treatmentv1.PrescribeResponse{Explanations: []*treatmentv1.Explanation{e}})
		require.NoError(t, err)
		require.NoError(t, codec.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data)}, &treatmentv1.PrescribeResponse{}))
	}
	kept := func() uint64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	before := kept()
	read(500_000)
	for i := range 800 {
		read(i)
	}
	require.Less(t, kept(), before+8<<20)
	runtime.KeepAlive(codec)
}
