package schema_test

import (
	"encoding/json"
	"flag"
	"os"
	"testing"

	"example.org/rootward/plugins/tablefile/internal/schema"
	"example.org/rootward/plugins/tablefile/internal/shape"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/reflect/protoreflect"
)

var update = flag.Bool("update", false, "write tabletext/schema.json")

const (
	golden = "../../tabletext/schema.json"
	protos = "../../../../proto/rootward/"
)

func generate(t *testing.T) []byte {
	t.Helper()
	comments, err := schema.ReadComments(protos+"ruletable/v1/table.proto", protos+"common/v1/vocabulary.proto")
	require.NoError(t, err)
	text, err := schema.Generate((&pb.Table{}).ProtoReflect().Descriptor(), comments)
	require.NoError(t, err)
	return text
}

func TestSchemaIsCurrent(t *testing.T) {
	text := generate(t)
	if *update {
		require.NoError(t, os.WriteFile(golden, text, 0o644))
	}
	checked, err := os.ReadFile(golden)
	require.NoError(t, err)
	assert.Equal(t, string(checked), string(text), "run: go test ./plugins/tablefile/internal/schema -update")
}

type part struct {
	Ref         string `json:"$ref"`
	Type        any
	Description string
	Pattern     string
	Examples    []string
	Properties  map[string]part
	Required    []string
	Items       *part
	AnyOf       []part
	OneOf       []part
	Const       string
	Additional  *bool `json:"additionalProperties"`
}

type document struct {
	part
	Defs map[string]part `json:"$defs"`
}

func read(t *testing.T) document {
	t.Helper()
	var d document
	require.NoError(t, json.Unmarshal(generate(t), &d))
	return d
}

// Each reference leads somewhere, and each key and word says what it is.
func TestSchemaIsWhole(t *testing.T) {
	d := read(t)
	var visit func(where string, p part)
	visit = func(where string, p part) {
		if p.Ref != "" {
			assert.Contains(t, d.Defs, p.Ref[len("#/$defs/"):], where)
		}
		for key, q := range p.Properties {
			assert.NotEmpty(t, q.Description, "%s.%s says nothing", where, key)
			visit(where+"."+key, q)
		}
		if p.Properties != nil {
			assert.True(t, p.Additional != nil && !*p.Additional, "%s takes unknown keys", where)
		}
		for _, key := range p.Required {
			if p.Properties == nil {
				break // one of the ways of the definition around it
			}
			assert.Contains(t, p.Properties, key, where)
		}
		for _, q := range p.OneOf {
			assert.NotEmpty(t, q.Description, "%s: the word %s says nothing", where, q.Const)
		}
		for _, q := range p.AnyOf {
			visit(where, q)
		}
		if p.Items != nil {
			visit(where, *p.Items)
		}
	}
	visit("table", d.part)
	for name, p := range d.Defs {
		assert.NotEmpty(t, p.Description, name)
		visit(name, p)
	}
}

// Each message and each vocabulary of the contract is in the schema, under keys
// that differ.
func TestSchemaHoldsTheContract(t *testing.T) {
	d := read(t)
	seen := map[protoreflect.FullName]bool{}
	var visit func(m protoreflect.MessageDescriptor)
	visit = func(m protoreflect.MessageDescriptor) {
		if seen[m.FullName()] {
			return
		}
		seen[m.FullName()] = true
		keys := map[string]bool{}
		for _, f := range shape.Of(m) {
			assert.False(t, keys[f.Key], "%s has the key %s twice", m.FullName(), f.Key)
			keys[f.Key] = true
			switch f.Kind {
			case shape.Keys:
				visit(f.Desc.Message())
			case shape.Word:
				assert.Contains(t, d.Defs, string(f.Desc.Enum().Name()))
			}
		}
		assert.Contains(t, d.Defs, string(m.Name()))
	}
	visit((&pb.Table{}).ProtoReflect().Descriptor())
	assert.Equal(t, []string{"rule_id", "purpose", "citation", "valid_from", "effect"}, d.Defs["Row"].Required)
	assert.Contains(t, d.Defs["ExclusionZone"].Required, "radius", "a zone without a radius would state that there is none")
}
