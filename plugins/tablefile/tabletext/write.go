package tabletext

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/rootward/plugins/tablefile/internal/shape"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Write writes a table as text. Its error names the value that cannot be written,
// which no valid table holds.
func Write(t *pb.Table) ([]byte, error) {
	w := &writer{}
	w.keys(t.ProtoReflect(), 0, false)
	if w.err != nil {
		return nil, w.err
	}
	return w.text.Bytes(), nil
}

type writer struct {
	text bytes.Buffer
	err  error
}

// stated is one key with the value that it has in a message.
type stated struct {
	shape.Field
	value protoreflect.Value
}

// statedIn lists the keys that say something in a message.
func statedIn(m protoreflect.Message) []stated {
	fields := shape.Of(m.Descriptor())
	near := map[protoreflect.FieldDescriptor]protoreflect.Value{}
	far := map[protoreflect.FieldDescriptor]protoreflect.Value{}
	for _, f := range fields {
		if f.Kind == shape.Others {
			near[f.Desc], far[f.Desc] = split(m, f.Desc)
		}
	}
	var keys []stated
	for _, f := range fields {
		if v, ok := said(m, f, near, far); ok {
			keys = append(keys, stated{f, v})
		}
	}
	return keys
}

// said is the value of one key, and false where the key is left out.
func said(m protoreflect.Message, f shape.Field, near, far map[protoreflect.FieldDescriptor]protoreflect.Value) (protoreflect.Value, bool) {
	if f.Kind == shape.Others {
		return far[f.Desc], far[f.Desc].IsValid()
	}
	if list, divided := near[f.Desc]; divided {
		return list, list.List().Len() > 0
	}
	if f.Kind == shape.Like {
		return protoreflect.Value{}, false
	}
	sameEnd := f.Open == nil || m.Get(f.Open).Bool() == f.IsOpen
	return m.Get(f.Desc), sameEnd && says(m, f)
}

func says(m protoreflect.Message, f shape.Field) bool {
	required := requiredOf(m.Descriptor())[f.Key]
	if !m.Has(f.Desc) {
		// Of a number that must be stated zero is a statement: no exclusion zone.
		return required && slices.Contains([]shape.Kind{shape.Integer, shape.Number, shape.Length, shape.Area, shape.Rate, shape.Amount}, f.Kind)
	}
	// An empty message says no more than none.
	empty := f.Kind == shape.Keys && !f.List && len(statedIn(m.Get(f.Desc).Message())) == 0
	return !empty || required || f.Desc.ContainingOneof() != nil
}

// keys writes the keys of a message as a block. The first stands behind a dash
// where the message is an entry of a list.
func (w *writer) keys(m protoreflect.Message, indent int, behindDash bool) {
	for i, k := range statedIn(m) {
		if i > 0 || !behindDash {
			w.text.WriteString(strings.Repeat("  ", indent))
		}
		w.text.WriteString(k.Key + ":")
		w.value(m, k, indent)
	}
}

func (w *writer) value(m protoreflect.Message, k stated, indent int) {
	switch {
	case k.Kind == shape.Keys && k.List:
		w.entries(k.value.List(), indent)
	case k.Kind == shape.Keys:
		w.nested(k.value.Message(), indent)
	default:
		w.text.WriteString(" " + w.inline(m, k) + "\n")
	}
}

func (w *writer) entries(list protoreflect.List, indent int) {
	w.text.WriteString("\n")
	for i := range list.Len() {
		w.text.WriteString(strings.Repeat("  ", indent+1) + "- ")
		m := list.Get(i).Message()
		if flow, ok := w.flow(m); ok {
			w.text.WriteString(flow + "\n")
		} else {
			w.keys(m, indent+2, true)
		}
	}
}

func (w *writer) nested(m protoreflect.Message, indent int) {
	keys := statedIn(m)
	switch {
	case len(keys) == 0:
		w.text.WriteString(" {}\n")
	case len(keys) == 1 && keys[0].Desc.ContainingOneof() != nil && bare(keys[0]):
		w.text.WriteString(" " + keys[0].Key + "\n")
	default:
		w.text.WriteString("\n")
		w.keys(m, indent+1, false)
	}
}

// bare reports whether the name of a kind says all.
func bare(k stated) bool {
	return k.Kind == shape.Keys && len(statedIn(k.value.Message())) == 0 && len(requiredOf(k.Desc.Message())) == 0
}

// maxFlow is the longest mapping that is written on one line.
const maxFlow = 110

// flow writes a short message without nested ones on one line.
func (w *writer) flow(m protoreflect.Message) (string, bool) {
	var parts []string
	for _, k := range statedIn(m) {
		if k.Kind == shape.Keys {
			return "", false
		}
		parts = append(parts, k.Key+": "+w.inline(m, k))
	}
	text := "{" + strings.Join(parts, ", ") + "}"
	return text, len(text) <= maxFlow
}

func (w *writer) inline(m protoreflect.Message, k stated) string {
	if !k.List || k.Kind == shape.Others {
		return w.scalar(m, k.Field, k.value)
	}
	var parts []string
	for i := range k.value.List().Len() {
		parts = append(parts, w.scalar(m, k.Field, k.value.List().Get(i)))
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

func (w *writer) scalar(m protoreflect.Message, f shape.Field, v protoreflect.Value) string {
	text, err := format(m, f, v)
	if err != nil && w.err == nil {
		w.err = fmt.Errorf("%s.%s: %w", m.Descriptor().Name(), f.Key, err)
	}
	return text
}

func format(m protoreflect.Message, f shape.Field, v protoreflect.Value) (string, error) {
	switch f.Kind {
	case shape.Text:
		return quote(v.String()), nil
	case shape.Word:
		return wordOf(f.Desc.Enum(), v.Enum())
	case shape.Number:
		return strconv.FormatFloat(v.Float(), 'f', -1, 64), nil
	case shape.Length, shape.Area, shape.Rate:
		return shape.FormatQuantity(f.Kind, v.Int()), nil
	case shape.Others:
		return shape.FormatQuantity(shape.Length, v.Int()), nil
	case shape.Amount:
		return amountOf(m, v)
	case shape.Date:
		return shape.FormatDate(v.Message().Interface().(*date.Date))
	case shape.Window:
		return shape.FormatWindow(v.Message().Interface().(*pb.Window))
	case shape.Hours:
		return shape.FormatHours(v.Message().Interface().(*pb.ClockHours))
	}
	return v.String(), nil
}

func wordOf(enum protoreflect.EnumDescriptor, n protoreflect.EnumNumber) (string, error) {
	v := enum.Values().ByNumber(n)
	if v == nil || n == 0 {
		return "", fmt.Errorf("%d is not a word of %s", n, enum.Name())
	}
	return shape.WordOf(v), nil
}

func amountOf(m protoreflect.Message, v protoreflect.Value) (string, error) {
	measure := m.Descriptor().Fields().ByName("measure")
	of := measure.Enum().Values().ByNumber(m.Get(measure).Enum())
	if of == nil {
		return "", fmt.Errorf("the measure %d is not known", m.Get(measure).Enum())
	}
	if kind := shape.AmountOf(of); kind != shape.Integer {
		return shape.FormatQuantity(kind, v.Int()), nil
	}
	return v.String(), nil
}

// plain is what YAML reads as the text that it is; reserved is what other readers
// take for something else.
var (
	plain    = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9()/.;-]*( [A-Za-z0-9()/.;-]+)*$`)
	reserved = []string{"true", "false", "null", "yes", "no", "on", "off", "y", "n", "nan", "inf"}
)

func quote(s string) string {
	if plain.MatchString(s) && !slices.Contains(reserved, strings.ToLower(s)) {
		return s
	}
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	_ = e.Encode(s) // a string can always be written
	return strings.NewReplacer("\u007f", `\u007f`, "\u0085", `\u0085`, "\ufeff", `\ufeff`).Replace(strings.TrimSpace(text.String()))
}
