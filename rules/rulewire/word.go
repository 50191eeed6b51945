package rulewire

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"
)

// Encode writes one word of a vocabulary; the numbers on the wire are those of
// package rules.
func Encode[E ~int32, V rules.Vocabulary](v V) E { return E(v) }

// Decode reads one word of a vocabulary, zero for "not stated". It reports false
// for a number this program has no word for.
func Decode[V rules.Vocabulary, E ~int32](e E) (V, bool) {
	if e < 0 || e > 255 {
		return 0, false
	}
	v := V(e)
	return v, v == 0 || rules.Known(v)
}

// EncodeDecision writes a decision. On the wire zero is "not stated", so each
// decision is one more than in package rules.
func EncodeDecision(d rules.Decision) commonv1.Decision { return commonv1.Decision(d) + 1 }

// DecodeDecision reads a decision. It reports false for "not stated" and for a
// number this program does not know.
func DecodeDecision(d commonv1.Decision) (rules.Decision, bool) {
	if d < commonv1.Decision_DECISION_ALLOWED || d > commonv1.Decision_DECISION_PROHIBITED {
		return rules.Undetermined, false
	}
	return rules.Decision(d - 1), true
}

func encodeSet[E ~int32, V rules.Vocabulary](s rules.OneOf[V]) []E {
	if s.Empty() {
		return nil
	}
	values := s.Values()
	list := make([]E, len(values))
	for i, v := range values {
		list[i] = Encode[E](v)
	}
	return list
}
