package tabletext

import (
	_ "embed"
	"encoding/json"
	"sync"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// Schema is the JSON Schema (draft 2020-12) of the format, for editors. It is
// generated from the contract with its comments.
//
//go:embed schema.json
var Schema []byte

// definition is what the schema says of one message. The contract says it in its
// comments alone, which descriptors do not carry.
type definition struct {
	Required   []string
	Properties map[string]struct{ Description string }
	// AnyOf has for a worked case what "like" may stand for, and for a message that is
	// one of several kinds the keys.
	AnyOf []definition
}

var definitions = sync.OnceValue(func() map[string]definition {
	var schema struct {
		Defs map[string]definition `json:"$defs"`
	}
	if err := json.Unmarshal(Schema, &schema); err != nil {
		panic("tabletext: the embedded schema is not JSON: " + err.Error())
	}
	return schema.Defs
})

var requiredKeys = sync.OnceValue(func() map[string]map[string]bool {
	keys := map[string]map[string]bool{}
	for name, def := range definitions() {
		keys[name] = map[string]bool{}
		for _, way := range append(def.AnyOf, def) {
			for _, key := range way.Required {
				keys[name][key] = key != "like"
			}
		}
	}
	return keys
})

// requiredOf says which keys of a message must be stated; of a worked case, where it
// is not like another.
func requiredOf(m protoreflect.MessageDescriptor) map[string]bool {
	return requiredKeys()[string(m.Name())]
}

// descriptionOf says what a key means.
func descriptionOf(m protoreflect.MessageDescriptor, key string) string {
	return definitions()[string(m.Name())].Properties[key].Description
}
