package columnar_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

func TestIDsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOf(rapid.String()).Draw(t, "ids")
		c := &treatmentv1.StemChunk{}
		columnar.SetIDs(c, want...)
		require.Equal(t, -1, columnar.CheckIDs(c))
		require.Equal(t, len(want), columnar.Rows(c))
		require.Equal(t, len(want), len(columnar.IDs(c)))
		for i, id := range want {
			require.Equal(t, id, columnar.ID(c, i))
		}
	})
}

func TestIDsThatDoNotLieInTheirTextAreNamed(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		ends []uint32
		want int
	}{
		"none at all":               {"", nil, -1},
		"empty ids":                 {"", []uint32{0, 0}, -1},
		"beyond the text":           {"ab", []uint32{1, 3}, 1},
		"before the one before":     {"ab", []uint32{2, 1}, 1},
		"within a character":        {"éb", []uint32{1, 3}, 0},
		"text that nobody has":      {"abc", []uint32{1, 2}, 1},
		"far beyond what is number": {"ab", []uint32{1<<32 - 1, 2}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, c.want, columnar.CheckIDs(&treatmentv1.StemChunk{StemIds: c.text, StemIdEnds: c.ends}))
		})
	}
}

// Explanations in pieces, cut in any way between fields, are what they were, from chunk to
// chunk; equal ones are one message.
func TestExplanationsComeBack(t *testing.T) {
	var known columnar.Explanations
	rapid.Check(t, func(t *rapid.T) {
		var want []*treatmentv1.Explanation
		c := &treatmentv1.PrescriptionChunk{}
		at := map[string]int32{}
		for range rapid.IntRange(0, 6).Draw(t, "explanations") {
			e := drawnExplanation(t)
			want = append(want, e)
			text, err := proto.Marshal(e)
			require.NoError(t, err)
			for len(text) > 0 {
				_, _, n := protowire.ConsumeField(text)
				if at[string(text[:n])] == 0 {
					c.Pieces = append(c.Pieces, text[:n])
					at[string(text[:n])] = int32(len(c.Pieces))
				}
				c.ExplanationPieces = append(c.ExplanationPieces, at[string(text[:n])]-1)
				text = text[n:]
			}
			c.ExplanationEnds = append(c.ExplanationEnds, int32(len(c.ExplanationPieces)))
		}
		got, err := known.Of(c)
		require.NoError(t, err)
		require.Len(t, got, len(want))
		require.Equal(t, len(want), columnar.NumExplanations(c))
		for i := range want {
			require.True(t, proto.Equal(want[i], got[i]), "%v\n%v", want[i], got[i])
			for k := range i {
				require.Equal(t, proto.Equal(want[i], want[k]), got[i] == got[k])
			}
		}
	})
}

func drawnExplanation(t *rapid.T) *treatmentv1.Explanation {
	word := func(label string) string { return rapid.SampledFrom([]string{"", "a", "b"}).Draw(t, label) }
	e := &treatmentv1.Explanation{Why: word("why"), Steps: []string{word("step")}, SecondPass: &treatmentv1.Choice{Active: word("active")}}
	for range rapid.IntRange(0, 2).Draw(t, "parts") {
		e.Alternatives = append(e.Alternatives, &treatmentv1.Alternative{FormulationId: word("id"), Reasons: []string{word("reason")}})
		e.Findings = append(e.Findings, &rulesetv1.Finding{Text: word("text"), RuleSet: &commonv1.RuleSetRef{Digest: word("digest")}})
	}
	return e
}

// No field of an explanation is lost, one that is added some day neither.
func TestEveryFieldComesBack(t *testing.T) {
	want := &treatmentv1.Explanation{}
	fields := want.ProtoReflect().Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		m := want.ProtoReflect()
		switch {
		case f.IsList() && f.Kind() == protoreflect.MessageKind:
			m.Mutable(f).List().AppendMutable()
			m.Mutable(f).List().AppendMutable()
		case f.IsList():
			m.Mutable(f).List().Append(protoreflect.ValueOfString("a"))
			m.Mutable(f).List().Append(protoreflect.ValueOfString("b"))
		case f.Kind() == protoreflect.MessageKind:
			m.Mutable(f)
		default:
			m.Set(f, protoreflect.ValueOfString("a"))
		}
	}
	c := &treatmentv1.PrescriptionChunk{}
	number, err := columnar.Add(c, &treatmentv1.Explanation{})
	require.NoError(t, err)
	require.Zero(t, number)
	number, err = columnar.Add(c, want)
	require.NoError(t, err)
	require.EqualValues(t, 1, number)
	var known columnar.Explanations
	got, err := known.Of(c)
	require.NoError(t, err)
	assert.True(t, proto.Equal(want, got[1]), "%v", got[1])
	assert.Zero(t, proto.Size(got[0]))
}

// FuzzExplanations puts anything together: it is refused or understood, and never more
// than it is.
func FuzzExplanations(f *testing.F) {
	c := &treatmentv1.PrescriptionChunk{}
	if _, err := columnar.Add(c, &treatmentv1.Explanation{Why: "a"}); err != nil {
		f.Fatal(err)
	}
	data, err := proto.Marshal(c)
	require.NoError(f, err)
	f.Add(data)
	f.Fuzz(func(t *testing.T, data []byte) {
		c := &treatmentv1.PrescriptionChunk{}
		if proto.Unmarshal(data, c) != nil {
			return
		}
		var known columnar.Explanations
		list, err := known.Of(c)
		if columnar.CheckPieces(c) != nil {
			require.Error(t, err)
		}
		if err == nil {
			require.Len(t, list, columnar.NumExplanations(c))
		}
	})
}
