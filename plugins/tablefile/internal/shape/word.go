package shape

import (
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// Words lists a vocabulary as it is written, without "not stated".
func Words(enum protoreflect.EnumDescriptor) []string {
	var words []string
	for i := range enum.Values().Len() {
		if v := enum.Values().Get(i); v.Number() != 0 {
			words = append(words, WordOf(v))
		}
	}
	return words
}

// WordOf is the word of one value: its name without that of the vocabulary, in
// small letters; of a measure without the unit that its value states; a toxicity
// category as the regulation writes it, in capitals.
func WordOf(v protoreflect.EnumValueDescriptor) string {
	enum := v.Parent().(protoreflect.EnumDescriptor)
	prefix := strings.TrimSuffix(string(enum.Values().ByNumber(0).Name()), "UNSPECIFIED")
	word := strings.TrimPrefix(string(v.Name()), prefix)
	if enum.Name() == "ToxicityCategory" {
		return word
	}
	word = strings.ToLower(word)
	if enum.Name() == "Measure" {
		word, _ = withoutUnit(word, Integer)
	}
	return word
}

// Value finds a word of a vocabulary.
func Value(enum protoreflect.EnumDescriptor, word string) (protoreflect.EnumNumber, bool) {
	for i := range enum.Values().Len() {
		if v := enum.Values().Get(i); v.Number() != 0 && WordOf(v) == word {
			return v.Number(), true
		}
	}
	return 0, false
}

// AmountOf is the kind in which the amounts of a measure are written.
func AmountOf(measure protoreflect.EnumValueDescriptor) Kind {
	_, kind := withoutUnit(strings.ToLower(string(measure.Name())), Integer)
	return kind
}
