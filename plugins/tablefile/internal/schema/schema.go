package schema

import (
	"bytes"
	"encoding/json"
	"maps"

	"example.org/rootward/plugins/tablefile/internal/shape"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// object is a part of a schema; JSON writes its keys in alphabetical order.
type object = map[string]any

// Generate writes the schema of a message and of all that it holds.
func Generate(root protoreflect.MessageDescriptor, comments Comments) ([]byte, error) {
	g := &generator{comments: comments, defs: object{}}
	g.quantities()
	top := g.message(root)
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(object{
		"$schema": "https://json-schema.org/draft/2020-12/schema",
		"title":   "Rootward rule table",
		"$ref":    top["$ref"],
		"$defs":   g.defs,
	})
	return text.Bytes(), err
}

type generator struct {
	comments Comments
	defs     object
}

func ref(name string) object { return object{"$ref": "#/$defs/" + name} }

// quantities are the values that are written as text of a certain form.
func (g *generator) quantities() {
	form := func(name, pattern, description string, examples ...string) {
		g.defs[name] = object{"type": "string", "pattern": pattern, "description": description, "examples": examples}
	}
	form("length", shape.QuantityPattern(shape.Length), "A length with its unit.", "100 ft", "30 m", "6 in")
	form("area", shape.QuantityPattern(shape.Area), "An area with its unit.", "5 acres", "2 ha", "100 m2")
	form("rate", shape.QuantityPattern(shape.Rate), "Acid equivalent per area with its unit.", "8 lb ae/acre")
	form("date", shape.DatePattern, "A day, year-month-day.", "2026-01-31")
	form("window", shape.WindowPattern, "A part of every year, both days included.", "15 July to 15 October")
	form("hours", shape.HoursPattern, "A part of the day in local time.", "7:00 to 19:30", "sunrise + 0:30 to sunset")
	g.defs["amount"] = object{
		"description": "An amount in the unit of the measure beside it; a whole number where the measure names the unit.",
		"anyOf":       []object{ref("length"), ref("area"), {"type": "integer"}},
	}
}

func (g *generator) message(m protoreflect.MessageDescriptor) object {
	name := string(m.Name())
	if _, done := g.defs[name]; done {
		return ref(name)
	}
	g.defs[name] = nil // stops a message that holds itself
	properties, required := object{}, []string{}
	for _, f := range shape.Of(m) {
		properties[f.Key] = g.property(m, f)
		if isRequired(g.comments, m, f) {
			required = append(required, f.Key)
		}
	}
	def := object{
		"type": "object", "description": g.comments.description(name),
		"properties": properties, "additionalProperties": false,
	}
	if len(required) > 0 {
		def["required"] = required
	}
	switch {
	case shape.OneKind(m):
		def = g.oneKind(m, def)
	case properties["like"] != nil:
		def["required"] = []string{"name", "want"}
		def["anyOf"] = []object{{"required": []string{"like"}}, {"required": []string{"on", "treatment"}}}
	}
	g.defs[name] = def
	return ref(name)
}

func isRequired(c Comments, m protoreflect.MessageDescriptor, f shape.Field) bool {
	return f.Kind != shape.Others && f.Kind != shape.Like && required(c[string(m.Name())+"."+string(f.Desc.Name())])
}

// oneKind is a message of which one key is stated; the name alone will do where the
// kind needs no keys.
func (g *generator) oneKind(m protoreflect.MessageDescriptor, def object) object {
	var alone []string
	for _, f := range shape.Of(m) {
		if kind := g.defs[string(f.Desc.Message().Name())].(object); kind["required"] == nil {
			alone = append(alone, f.Key)
		}
	}
	def["minProperties"], def["maxProperties"] = 1, 1
	description := def["description"]
	delete(def, "description")
	return object{"description": description, "anyOf": []object{def, {"enum": alone}}}
}

func (g *generator) property(m protoreflect.MessageDescriptor, f shape.Field) object {
	name := string(m.Name()) + "." + string(f.Desc.Name())
	switch f.Kind {
	case shape.Others:
		p := ref("length")
		p["description"] = "Every class of " + string(f.Desc.Name()) + " that is not listed lies no nearer than this."
		return p
	case shape.Like:
		return object{"type": "string", "description": "The name of a case before this one, whose day, treatment and site hold but for what is stated here."}
	}
	value := g.value(f)
	if f.List {
		value = list(value, f.Kind)
	}
	if said := g.comments.description(name); said != "" {
		value["description"] = said
	}
	return value
}

// list is a list; of words and texts one alone will do.
func list(item object, kind shape.Kind) object {
	many := object{"type": "array", "items": item, "minItems": 1}
	if kind == shape.Keys {
		return many
	}
	many["uniqueItems"] = kind == shape.Word
	return object{"anyOf": []object{maps.Clone(item), many}}
}

func (g *generator) value(f shape.Field) object {
	switch f.Kind {
	case shape.Text:
		return object{"type": "string"}
	case shape.Integer:
		return object{"type": "integer"}
	case shape.Number:
		return object{"type": "number"}
	case shape.Flag:
		return object{"type": "boolean"}
	case shape.Word:
		return g.vocabulary(f.Desc.Enum())
	case shape.Keys:
		return g.message(f.Desc.Message())
	}
	return ref(forms[f.Kind])
}

var forms = map[shape.Kind]string{
	shape.Length: "length", shape.Area: "area", shape.Rate: "rate", shape.Date: "date",
	shape.Window: "window", shape.Hours: "hours", shape.Amount: "amount",
}

// vocabulary lists the words, each with what it means.
func (g *generator) vocabulary(enum protoreflect.EnumDescriptor) object {
	name := string(enum.Name())
	var words []object
	for i := range enum.Values().Len() {
		if v := enum.Values().Get(i); v.Number() != 0 {
			words = append(words, object{"const": shape.WordOf(v), "description": g.comments.description(name + "." + string(v.Name()))})
		}
	}
	g.defs[name] = object{"description": g.comments.description(name), "oneOf": words}
	return ref(name)
}
