package command

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// oneDocument gives what a file describes, nil where it is empty. A second document is
// refused, also an empty one, behind which the parser reads nothing.
func oneDocument(file *ast.File) (ast.Node, error) {
	docs := file.Docs
	if len(docs) > 1 && docs[0].Body != nil && docs[0].Body.Type() == ast.DirectiveType {
		docs = docs[1:]
	}
	switch {
	case len(docs) == 0:
		return nil, nil
	case len(docs) == 1:
		return docs[0].Body, nil
	}
	at := docs[1].Start
	if at == nil {
		at = docs[1].Body.GetToken()
	}
	return nil, fmt.Errorf("line %d: a second document begins: write one in a file, without --- or ... in between", at.Position.Line)
}

func faultAt(n ast.Node, format string, args ...any) error {
	at := n.GetToken().Position
	return fmt.Errorf("line %d, column %d: %s", at.Line, at.Column, fmt.Sprintf(format, args...))
}

// faultOf finds what does not fit a message, with the line and the column in the file; nil
// where it is none of what is looked for. What an anchor stands for is not looked at.
func faultOf(n ast.Node, m protoreflect.MessageDescriptor) error {
	for _, entry := range entriesOf(n) {
		if entry.Key.IsMergeKey() { // <<: the fields of another mapping
			if err := faultOf(entry.Value, m); err != nil {
				return err
			}
			continue
		}
		name := entry.Key.GetToken().Value
		field := m.Fields().ByName(protoreflect.Name(name))
		if field == nil {
			field = m.Fields().ByJSONName(name)
		}
		if field == nil {
			return faultAt(entry.Key, "%q is not a field here: write one of %s", name, strings.Join(namesOf(m.Fields()), ", "))
		}
		if err := faultOfField(entry.Value, field); err != nil {
			return err
		}
	}
	return nil
}

// entriesOf are those of a mapping, also of one entry.
func entriesOf(n ast.Node) []*ast.MappingValueNode {
	switch n := n.(type) {
	case *ast.MappingNode:
		return n.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}
	}
	return nil
}

// namesOf lists the names of the fields of a message, or of the words of an enumeration, the
// first of which is that for "not stated".
func namesOf[D protoreflect.Descriptor](list interface {
	Len() int
	Get(i int) D
}) []string {
	names := make([]string, list.Len())
	for i := range names {
		names[i] = string(list.Get(i).Name())
	}
	return names
}

func faultOfField(n ast.Node, f protoreflect.FieldDescriptor) error {
	switch {
	case unseen(n):
		return nil
	case f.IsMap():
		for _, entry := range entriesOf(n) {
			if err := faultOfValue(entry.Value, f.MapValue()); err != nil {
				return err
			}
		}
		return nil
	case !f.IsList():
		return faultOfValue(n, f)
	}
	list, ok := n.(*ast.SequenceNode)
	if !ok {
		return faultAt(n, "%s is a list: write %s: [...], or a line with - for each entry", f.Name(), f.Name())
	}
	for _, v := range list.Values {
		if err := faultOfValue(v, f); err != nil {
			return err
		}
	}
	return nil
}

// unseen is true of nothing, and of what stands elsewhere in the file.
func unseen(n ast.Node) bool {
	switch n.(type) {
	case nil, *ast.NullNode, *ast.AliasNode, *ast.AnchorNode, *ast.TagNode:
		return true
	}
	return false
}

func faultOfValue(n ast.Node, f protoreflect.FieldDescriptor) error {
	if unseen(n) {
		return nil
	}
	if f.Message() != nil {
		return faultOfMessage(n, f)
	}
	scalar, ok := n.(ast.ScalarNode)
	if !ok {
		return faultAt(n, "%s is one value: write %s: VALUE", f.Name(), f.Name())
	}
	text := fmt.Sprint(scalar.GetValue())
	_, isText := scalar.GetValue().(string)
	if literal, ok := n.(*ast.LiteralNode); ok {
		text, isText = literal.Value.Value, true
	}
	switch f.Kind() {
	case protoreflect.EnumKind:
		if words := namesOf(f.Enum().Values()); isText && !slices.Contains(words, text) {
			return faultAt(n, "%s: %q is not one of its words: write %s", f.Name(), text, strings.Join(words[1:], ", "))
		}
	case protoreflect.StringKind:
		if !isText {
			return faultAt(n, "%s is text: put it in quotes, as \"%s\"", f.Name(), text)
		}
	case protoreflect.BoolKind:
		if _, ok := scalar.GetValue().(bool); !ok {
			return faultAt(n, "%s: %q is not true or false", f.Name(), text)
		}
	case protoreflect.BytesKind:
	default:
		return faultOfNumber(n, f, text)
	}
	return nil
}

// integerBits are those of the whole numbers that messages have.
var integerBits = map[protoreflect.Kind]int{protoreflect.Int32Kind: 32, protoreflect.Int64Kind: 64}

func faultOfNumber(n ast.Node, f protoreflect.FieldDescriptor, text string) error {
	v, err := strconv.ParseFloat(text, 64)
	beyond := errors.Is(err, strconv.ErrRange)
	if err != nil && !beyond || math.IsNaN(v) {
		return faultAt(n, "%s: %q is not a number: write a plain one such as 12.5", f.Name(), text)
	}
	if f.Kind() == protoreflect.DoubleKind || f.Kind() == protoreflect.FloatKind {
		if math.IsInf(v, 0) {
			return faultAt(n, "%s: %s is too large a number: write a plain one such as 12.5", f.Name(), text)
		}
		return nil
	}
	if bits := integerBits[f.Kind()]; bits > 0 {
		_, err := strconv.ParseInt(text, 10, bits)
		if end := uint64(1) << (bits - 1); errors.Is(err, strconv.ErrRange) || math.Abs(v) > float64(end) {
			return faultAt(n, "%s: %s is out of range: write a whole number from -%d to %d", f.Name(), text, end, end-1)
		}
	}
	if v != math.Trunc(v) {
		return faultAt(n, "%s: %s is not a whole number", f.Name(), text)
	}
	return nil
}

func isList(n ast.Node) bool {
	_, list := n.(*ast.SequenceNode)
	return list
}

func faultOfMessage(n ast.Node, f protoreflect.FieldDescriptor) error {
	scalar, one := n.(ast.ScalarNode)
	switch m := f.Message(); {
	case m.FullName() == "google.protobuf.Timestamp":
		if one {
			if _, err := time.Parse(time.RFC3339, fmt.Sprint(scalar.GetValue())); err == nil {
				return nil
			}
		}
		return faultAt(n, "%s is a time with its distance from UTC: write 2026-07-20T08:00:00-04:00", f.Name())
	case one && m.FullName() == "google.type.Date":
		return faultAt(n, "%s is a date by its parts: write {year: 2026, month: 7, day: 20}", f.Name())
	case strings.HasPrefix(string(m.FullName()), "google.") && m.FullName() != "google.type.Date":
		return nil // of a form of its own
	case one || isList(n):
		return faultAt(n, "%s has fields of its own: write %s: {%s: ...}", f.Name(), f.Name(), namesOf(m.Fields())[0])
	default:
		return faultOf(n, m)
	}
}
