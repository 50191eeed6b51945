// Package wording writes the API's words for people: enumerations with spaces,
// dates as YYYY-MM-DD, rule sets with version and the start of their digest.
package wording

import (
	"fmt"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
)

// Word gives one word of a vocabulary as people write it; nothing for "not stated".
func Word[V interface {
	rules.Vocabulary
	String() string
}](v V) string {
	return strings.ReplaceAll(v.String(), "_", " ")
}

// Method gives a method in words, as "hack and squirt".
func Method(m commonv1.Method) string { return Word(rules.Method(m)) }

// Title begins a text with a capital letter.
func Title(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// Outcome gives an outcome as one word, as "prescribed".
func Outcome(o treatmentv1.Outcome) string {
	return lastWords(o.String(), "OUTCOME_")
}

// Decision gives a decision as one word, as "conditional"; nothing for "not stated".
func Decision(d commonv1.Decision) string {
	if d == commonv1.Decision_DECISION_UNSPECIFIED {
		return ""
	}
	return lastWords(d.String(), "DECISION_")
}

func lastWords(name, prefix string) string {
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(name, prefix), "_", " "))
}

// Count is a number of things, of which the word for one is given.
func Count[N int | int32 | int64](n N, one string) string {
	return rules.Several(n, one)
}

// Date gives YYYY-MM-DD, and nothing for no date.
func Date(d *date.Date) string {
	if d.GetYear() == 0 {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.GetYear(), d.GetMonth(), d.GetDay())
}

// digestPrefix is how much of a digest people compare: 48 bits tell the versions
// of one set apart.
const digestPrefix = 12

// Digest gives the start of a digest.
func Digest(digest string) string { return digest[:min(len(digest), digestPrefix)] }

// RuleSet names an exact rule set, as "us-federal 2026.1, sha256 3f2a91c04b7e".
func RuleSet(r *commonv1.RuleSetRef) string {
	return fmt.Sprintf("%s %s, sha256 %s", r.GetRuleSetId(), r.GetVersion(), Digest(r.GetDigest()))
}

// WaterLayer names an exact layer of water, as "streams, sha256 3f2a91c04b7e".
func WaterLayer(r *commonv1.WaterLayerRef) string {
	return fmt.Sprintf("%s, sha256 %s", r.GetName(), Digest(r.GetDigest()))
}

// Choice names a treatment, as "Basal bark: triclopyr ester".
func Choice(method commonv1.Method, formulation string) string {
	title := Title(Method(method))
	if formulation == "" {
		return title
	}
	return title + ": " + formulation
}
