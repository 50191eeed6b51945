package tabletext_test

import (
	"cmp"
	"math"
	"strings"
	"time"

	"example.org/rootward/plugins/tablefile/internal/shape"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"
)

// drawTable draws a table by the contract's descriptors, so with every field, every
// kind of effect and every word that there is, valid or not.
func drawTable(t *rapid.T) *pb.Table {
	table := &pb.Table{}
	fill(t, table.ProtoReflect(), "table")
	return table
}

// needed are the fields without which a text is refused.
var needed = map[string]bool{}

func init() {
	for name, keys := range requiredKeys() {
		for _, key := range keys {
			needed[name+"."+key] = true
		}
	}
}

func fill(t *rapid.T, m protoreflect.Message, name string) {
	d := m.Descriptor()
	kind := -1
	if shape.OneKind(d) {
		kind = rapid.IntRange(0, d.Fields().Len()-1).Draw(t, name+" kind")
	}
	for i, f := range shape.Of(d) {
		must := needed[string(d.Name())+"."+f.Key] || i == kind
		switch {
		case f.Kind == shape.Others || f.Kind == shape.Like || kind >= 0 && i != kind:
		case f.Open != nil && m.Has(f.Desc):
		case must || rapid.IntRange(0, 2).Draw(t, f.Key+" stated") == 0:
			set(t, m, f, must)
		}
	}
}

func set(t *rapid.T, m protoreflect.Message, f shape.Field, must bool) {
	switch {
	case f.List && f.Kind == shape.Keys:
		for range rapid.IntRange(1, 3).Draw(t, f.Key) {
			fill(t, m.Mutable(f.Desc).List().AppendMutable().Message(), f.Key)
		}
	case f.List:
		list := m.Mutable(f.Desc).List()
		for _, v := range rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) any { return draw(t, f).Interface() }), 1, 3, func(v any) any { return v }).Draw(t, f.Key) {
			list.Append(protoreflect.ValueOf(v))
		}
	case f.Kind == shape.Keys:
		inner := m.NewField(f.Desc)
		fill(t, inner.Message(), f.Key)
		// An empty message says no more than none, and is written as none.
		if must || proto.Size(inner.Message().Interface()) > 0 {
			m.Set(f.Desc, inner)
		}
	case f.Open != nil:
		m.Set(f.Desc, draw(t, f))
		m.Set(f.Open, protoreflect.ValueOfBool(rapid.Bool().Draw(t, "open")))
	default:
		m.Set(f.Desc, draw(t, f))
	}
}

func draw(t *rapid.T, f shape.Field) protoreflect.Value {
	switch f.Kind {
	case shape.Text:
		return protoreflect.ValueOfString(drawText(t))
	case shape.Integer:
		if f.Desc.Kind() == protoreflect.Int32Kind {
			return protoreflect.ValueOfInt32(rapid.Int32().Draw(t, f.Key))
		}
		return protoreflect.ValueOfInt64(rapid.Int64().Draw(t, f.Key))
	case shape.Number:
		return protoreflect.ValueOfFloat64(rapid.Float64().Filter(func(v float64) bool { return !math.Signbit(v) || v != 0 }).Draw(t, f.Key))
	case shape.Flag:
		return protoreflect.ValueOfBool(true)
	case shape.Word:
		values := f.Desc.Enum().Values()
		return protoreflect.ValueOfEnum(values.Get(rapid.IntRange(1, values.Len()-1).Draw(t, f.Key)).Number())
	case shape.Date:
		d := rulewire.EncodeDate(civil.Date(rapid.IntRange(1, int(civil.Of(9999, 12, 31))).Draw(t, f.Key)))
		return protoreflect.ValueOfMessage(d.ProtoReflect())
	case shape.Window:
		w := &pb.Window{From: drawDay(t), To: drawDay(t)}
		return protoreflect.ValueOfMessage(w.ProtoReflect())
	case shape.Hours:
		h := &pb.ClockHours{}
		h.FromMin, h.FromAnchor = drawClock(t)
		h.ToMin, h.ToAnchor = drawClock(t)
		return protoreflect.ValueOfMessage(h.ProtoReflect())
	}
	return protoreflect.ValueOfInt64(rapid.OneOf(
		rapid.Int64(), rapid.Int64Range(0, 100), rapid.Map(rapid.Int64Range(0, 1_000), func(feet int64) int64 { return 304_800 * feet }),
	).Draw(t, f.Key))
}

func drawText(t *rapid.T) string {
	text := strings.TrimSpace(rapid.OneOf(
		rapid.StringMatching(`[A-Za-z][A-Za-z0-9 ,.:;()'"#&*!|>%@-]{0,30}`), rapid.String(),
		rapid.SampledFrom([]string{"true", "no", "~", "null", "1.10", "0x10", "- a", "a: b", "a #b", "2026-01-01", "<<", "=", "1e3", ".inf", "7:00", "\u2028", "a\u0085b", "tab\there", "[", "{a: b}"}),
	).Draw(t, "text"))
	return cmp.Or(text, "x")
}

func drawDay(t *rapid.T) *pb.DayOfYear {
	day := civil.Of(2024, time.January, rapid.IntRange(1, 366).Draw(t, "day")).DayOfYear()
	return &pb.DayOfYear{Month: int32(day.Month), Day: int32(day.Day)}
}

func drawClock(t *rapid.T) (int32, pb.ClockAnchor) {
	anchor := pb.ClockAnchor(rapid.IntRange(0, 3).Draw(t, "anchor"))
	least := -720
	if anchor == 0 {
		least = 0
	}
	return int32(rapid.IntRange(least, 1440).Draw(t, "minutes")), anchor
}
