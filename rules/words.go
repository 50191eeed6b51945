package rules

import (
	"fmt"
	"math/bits"
	"strings"
)

// Vocabulary is an enumeration whose zero value means "not stated". Each has a
// list of words, by value; the words are what files and people see. Only this
// package can add one.
type Vocabulary interface {
	~uint8
	words() []string
}

func word[T Vocabulary](v T) string {
	if list := v.words(); int(v) < len(list) {
		return list[v]
	}
	return fmt.Sprintf("unknown(%d)", uint8(v))
}

// ParseWord reads one word of a vocabulary. Its error lists the words there are.
func ParseWord[T Vocabulary](s string) (T, error) {
	var v T
	for i, w := range v.words() {
		if i > 0 && w == s {
			return T(i), nil
		}
	}
	return 0, fmt.Errorf("%q is not one of %s", s, strings.Join(v.words()[1:], ", "))
}

// Words lists a vocabulary's values, without "not stated".
func Words[T Vocabulary]() []T {
	var v T
	values := make([]T, 0, len(v.words())-1)
	for i := 1; i < len(v.words()); i++ {
		values = append(values, T(i))
	}
	return values
}

// Known reports whether the value is one of the vocabulary's words.
func Known[T Vocabulary](v T) bool { return v > 0 && int(v) < len(v.words()) }

// OneOf is a set of the values of one vocabulary.
type OneOf[T Vocabulary] uint32

// AnyOf gathers values.
func AnyOf[T Vocabulary](values ...T) OneOf[T] {
	var s OneOf[T]
	for _, v := range values {
		s |= 1 << v
	}
	return s
}

// Has reports whether v is in the set.
func (s OneOf[T]) Has(v T) bool { return s>>v&1 == 1 }

// Empty reports whether nothing is in the set; as a selector it then means any.
func (s OneOf[T]) Empty() bool { return s == 0 }

// first gives the first value of a set that is not empty.
func (s OneOf[T]) first() T { return T(bits.TrailingZeros32(uint32(s))) }

// Values lists the set in the vocabulary's order.
func (s OneOf[T]) Values() []T {
	values := make([]T, 0, bits.OnesCount32(uint32(s)))
	for v := T(0); v < 32; v++ {
		if s.Has(v) {
			values = append(values, v)
		}
	}
	return values
}

// String joins the set's words.
func (s OneOf[T]) String() string {
	list := make([]string, 0, 4)
	for _, v := range s.Values() {
		list = append(list, word(v))
	}
	return strings.Join(list, ", ")
}

// MarshalText writes the words, so that a table's digest does not depend on how
// the vocabulary is numbered.
func (s OneOf[T]) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// valid reports whether every member is a word of the vocabulary.
func (s OneOf[T]) valid() bool {
	for _, v := range s.Values() {
		if !Known(v) {
			return false
		}
	}
	return true
}
