package tabletext_test

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"example.org/rootward/plugins/tablefile/internal/shape"
	"example.org/rootward/plugins/tablefile/tabletext"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules/rulecoverage"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/reflect/protoreflect"
)

const document = "../../../docs/table-file.md"

var sample = regexp.MustCompile("(?ms)^```yaml ?(\\w*)\n(.*?)^```$")

// Each sample in the document is accepted.
func TestDocumentedSamples(t *testing.T) {
	text, err := os.ReadFile(document)
	require.NoError(t, err)
	seen := map[string]int{}
	for _, found := range sample.FindAllStringSubmatch(string(text), -1) {
		kind, body := found[1], found[2]
		seen[kind]++
		set, err := tabletext.Read("docs/table-file.md", []byte(around(kind, body)))
		require.NoError(t, err, "%s", body)
		if kind == "" {
			assert.Empty(t, rulecoverage.Missing(set), "the whole file can be bound")
		}
	}
	assert.Equal(t, map[string]int{"": 1, "row": 1, "effects": 1, "case": 1}, seen)
}

// around completes a part of a table to a whole one.
func around(kind, body string) string {
	switch kind {
	case "row":
		return minimal + entry(body)
	case "effects":
		text := minimal
		for i, effect := range strings.Split("\n"+body, "\n- ")[1:] {
			effect = "\n      " + strings.ReplaceAll(strings.TrimRight(effect, "\n"), "\n", "\n    ")
			text += strings.ReplaceAll(row, "ID", "row-"+string(rune('a'+i))) + effect + "\n"
		}
		return text
	case "case":
		return strings.ReplaceAll(minimal, "rule_id: nothing", "rule_id: steep-ground") + "cases:\n" + entry(body)
	}
	return body
}

const row = `  - rule_id: ID
    purpose: It shows one effect.
    citation: none; invented for this test
    valid_from: 2026-01-01
    effect:`

// entry makes a mapping an entry of a list.
func entry(body string) string {
	return "  - " + strings.ReplaceAll(strings.TrimRight(body, "\n"), "\n", "\n    ") + "\n"
}

// Each key of the format stands in the document.
func TestDocumentedKeys(t *testing.T) {
	text, err := os.ReadFile(document)
	require.NoError(t, err)
	seen := map[protoreflect.FullName]bool{}
	var visit func(m protoreflect.MessageDescriptor)
	visit = func(m protoreflect.MessageDescriptor) {
		if seen[m.FullName()] || m.Name() == "Computed" {
			return
		}
		seen[m.FullName()] = true
		for _, f := range shape.Of(m) {
			assert.Regexp(t, `\b`+f.Key+`\b`, string(text), "%s is not in docs/table-file.md", m.Name())
			if f.Kind == shape.Keys {
				visit(f.Desc.Message())
			}
		}
	}
	visit((&pb.Table{}).ProtoReflect().Descriptor())
}
