package rulehost

import "fmt"

// refusal is why a change is not made. Its word is one of those that RuleHost of
// package api names.
type refusal struct{ word, text string }

// Error implements error.
func (r *refusal) Error() string { return r.text }

// Refusal gives the reason in one word.
func (r *refusal) Refusal() string { return r.word }

// The words of refusals.
const (
	changesOff       = "CHANGES_OFF"
	unknownDigest    = "UNKNOWN_DIGEST"
	notEligible      = "NOT_ELIGIBLE"
	notCompared      = "NOT_COMPARED"
	changedMeanwhile = "CHANGED_MEANWHILE"
	nothingBefore    = "NOTHING_BEFORE"
	overlap          = "OVERLAP"
	notActive        = "NOT_ACTIVE"
)

func refuse(word, format string, args ...any) error {
	return &refusal{word, fmt.Sprintf(format, args...)}
}

// short is a digest as messages show it.
func short(digest string) string {
	if digest == "" {
		return "none"
	}
	return fmt.Sprintf("%.12s", digest)
}
