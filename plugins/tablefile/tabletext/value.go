package tabletext

import (
	"fmt"
	"strconv"
	"strings"

	"example.org/rootward/plugins/tablefile/internal/shape"
	"github.com/goccy/go-yaml/ast"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// set reads the value of a key into the field behind it.
func (r *reader) set(e entry, m protoreflect.Message) {
	switch {
	case e.field.List:
		r.list(e, m)
	case e.field.Kind == shape.Keys:
		r.message(e.path, e.value, m.Mutable(e.field.Desc).Message())
	default:
		if v, ok := r.scalar(e.path, e.value, e.field); ok {
			m.Set(e.field.Desc, v)
		}
	}
}

// list reads a sequence. Of words and texts one alone may stand without brackets.
func (r *reader) list(e entry, m protoreflect.Message) {
	sequence, ok := e.value.(*ast.SequenceNode)
	if !ok && e.field.Kind == shape.Keys {
		r.atNode(e.value, e.path, "%s is here; write a list, each entry behind a dash", what(e.value))
		return
	}
	values := []ast.Node{e.value}
	if ok {
		values = sequence.Values
	}
	if len(values) == 0 {
		r.atNode(e.value, e.path, "the list is empty; name something, or leave the key out")
	}
	inherited := messages(m.Get(e.field.Desc).List(), e.field.Kind)
	m.Clear(e.field.Desc)
	list := m.Mutable(e.field.Desc).List()
	for i, n := range values {
		at := fmt.Sprintf("%s[%d]", e.path, i)
		if e.field.Kind == shape.Keys {
			r.message(at, n, list.AppendMutable().Message())
		} else if v, ok := r.scalar(at, n, e.field); ok {
			r.append(at, n, list, v, e.field.Kind == shape.Word)
		}
	}
	keepOthers(list, inherited)
}

// append adds a value to a list. A word is in a list once.
func (r *reader) append(path string, n ast.Node, list protoreflect.List, v protoreflect.Value, once bool) {
	for i := range list.Len() {
		if once && list.Get(i).Equal(v) {
			r.atNode(n, path, "%s stands in the list twice; keep one", quoted(start(n).Value))
			return
		}
	}
	list.Append(v)
}

// scalar reads one value.
func (r *reader) scalar(path string, n ast.Node, f shape.Field) (protoreflect.Value, bool) {
	text, ok := scalarText(n, f.Kind == shape.Text)
	if !ok {
		r.atNode(n, path, "%s is here; %s", what(n), wanted(f))
		return protoreflect.Value{}, false
	}
	v, err := value(text, f)
	if err != nil {
		r.atNode(n, path, "%s", err)
	}
	return v, err == nil
}

// scalarText is the text of a scalar as it was written. Where a text is wanted, a
// number or a truth value is none: whoever reads "1.10" as a number reads 1.1.
func scalarText(n ast.Node, asText bool) (string, bool) {
	switch n := n.(type) {
	case *ast.StringNode:
		return n.Value, true
	case *ast.LiteralNode:
		return strings.TrimRight(n.Value.Value, "\n"), true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return n.GetToken().Value, !asText
	}
	return "", false
}

// value reads the text of one value. Its error names the value, what is allowed and
// the remedy.
func value(text string, f shape.Field) (protoreflect.Value, error) {
	switch f.Kind {
	case shape.Text:
		return protoreflect.ValueOfString(text), nil
	case shape.Integer:
		return integer(text, f.Desc)
	case shape.Number:
		return number(text)
	case shape.Flag:
		return flag(text)
	case shape.Word:
		return word(text, f.Desc.Enum())
	case shape.Length, shape.Area, shape.Rate:
		v, err := shape.ParseQuantity(f.Kind, text)
		return protoreflect.ValueOfInt64(v), err
	case shape.Date:
		return messageValue(shape.ParseDate(text))
	case shape.Window:
		return messageValue(shape.ParseWindow(text))
	case shape.Hours:
		return messageValue(shape.ParseHours(text))
	}
	return protoreflect.Value{}, fmt.Errorf("the contract has a kind of value that this program cannot read")
}

func messageValue[M proto.Message](m M, err error) (protoreflect.Value, error) {
	if err != nil {
		return protoreflect.Value{}, err
	}
	return protoreflect.ValueOfMessage(m.ProtoReflect()), nil
}

func integer(text string, d protoreflect.FieldDescriptor) (protoreflect.Value, error) {
	size := 64
	if d.Kind() == protoreflect.Int32Kind {
		size = 32
	}
	v, err := strconv.ParseInt(text, 10, size)
	if err != nil {
		return protoreflect.Value{}, fmt.Errorf("%s is not a whole number, or too large a one; write digits alone, as 14", quoted(text))
	}
	if size == 32 {
		return protoreflect.ValueOfInt32(int32(v)), nil
	}
	return protoreflect.ValueOfInt64(v), nil
}

func number(text string) (protoreflect.Value, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || strings.ContainsAny(text, "xXpP_iInN") {
		return protoreflect.Value{}, fmt.Errorf("%s is not a number; write digits, as 10 or 2.5", quoted(text))
	}
	return protoreflect.ValueOfFloat64(v), nil
}

func flag(text string) (protoreflect.Value, error) {
	if text != "true" && text != "false" {
		return protoreflect.Value{}, fmt.Errorf("%s is not one of true, false", quoted(text))
	}
	return protoreflect.ValueOfBool(text == "true"), nil
}

func word(text string, d protoreflect.EnumDescriptor) (protoreflect.Value, error) {
	v, ok := shape.Value(d, text)
	if !ok {
		return protoreflect.Value{}, fmt.Errorf("%s", notOneOf(text, shape.Words(d)))
	}
	return protoreflect.ValueOfEnum(v), nil
}

// what names the kind of a node for people.
func what(n ast.Node) string {
	switch n := n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a mapping"
	case *ast.SequenceNode:
		return "a list"
	case *ast.NullNode:
		return "nothing"
	case *ast.IntegerNode, *ast.FloatNode, *ast.InfinityNode, *ast.NanNode:
		return "the number " + n.GetToken().Value
	case *ast.BoolNode:
		return "the truth value " + n.GetToken().Value
	}
	return "the text " + quoted(start(n).Value)
}

// wanted says how the value of a key is written.
func wanted(f shape.Field) string {
	switch f.Kind {
	case shape.Text:
		return "write a text; in quotes where it looks like a number or a truth value"
	case shape.Integer:
		return "write a whole number, as 14"
	case shape.Number:
		return "write a number, as 10 or 2.5"
	case shape.Flag:
		return "write true or false"
	case shape.Word:
		return "write one of " + strings.Join(shape.Words(f.Desc.Enum()), ", ")
	case shape.Like:
		return "write the name of a case before this one"
	case shape.Length, shape.Others:
		return `write a length with its unit, as "100 ft"`
	case shape.Area:
		return `write an area with its unit, as "5 acres"`
	case shape.Rate:
		return `write a rate with its unit, as "8 lb ae/acre"`
	case shape.Date:
		return "write a date, as 2026-01-31"
	case shape.Window:
		return `write a part of the year, as "15 July to 15 October"`
	case shape.Hours:
		return `write a part of the day, as "7:00 to 19:30" or "sunrise + 0:30 to sunset"`
	case shape.Amount:
		return `write an amount in the measure's unit, as "6 in", or a whole number where the measure names the unit`
	}
	return "write " + keyList(f.Desc.Message())
}

func keyList(d protoreflect.MessageDescriptor) string { return strings.Join(names(d), ", ") }
