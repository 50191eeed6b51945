package api

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"unicode/utf8"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
)

// faults gathers everything that is wrong with a message, by field.
type faults struct{ list []treatment.FieldFault }

func (f *faults) add(field, format string, args ...any) {
	f.list = append(f.list, treatment.FieldFault{Field: field, Problem: fmt.Sprintf(format, args...)})
}

func (f *faults) unless(ok bool, field, format string, args ...any) {
	if !ok {
		f.add(field, format, args...)
	}
}

// err gives the faults as a status, and nil if there are none.
func (f *faults) err() error {
	if len(f.list) == 0 {
		return nil
	}
	sortByField(f.list)
	return invalid(f.list)
}

func sortByField(list []treatment.FieldFault) {
	slices.SortStableFunc(list, func(a, b treatment.FieldFault) int { return comparePaths(a.Field, b.Field) })
}

// comparePaths sorts field paths, with the numbers in them by their size, so that
// stems[2] comes before stems[10].
func comparePaths(a, b string) int {
	for a != "" && b != "" {
		n, restA := leadingNumber(a)
		m, restB := leadingNumber(b)
		if restA != a && restB != b {
			if n != m {
				return cmp.Compare(n, m)
			}
			a, b = restA, restB
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

func leadingNumber(s string) (int, string) {
	end := 0
	for end < len(s) && s[end] >= '0' && s[end] <= '9' {
		end++
	}
	n, _ := strconv.Atoi(s[:end])
	return n, s[end:]
}

// maxName bounds ids and names, in bytes, as treatment.MaxID bounds a row's id: a
// message that quotes one must not be longer than the request.
const maxName = treatment.MaxID

// name reads a text that is kept; what is too long is left out.
func (f *faults) name(field, s string) string {
	if len(s) > maxName {
		f.add(field, "has %d bytes; at most %d can be: shorten it", len(s), maxName)
		return ""
	}
	return s
}

// required reads a text that may not be empty.
func (f *faults) required(field, s, remedy string) string {
	if s == "" {
		f.add(field, "is empty: %s", remedy)
	}
	return f.name(field, s)
}

// quoted shortens a text for a message.
func quoted(s string) string {
	if len(s) <= maxName {
		return strconv.Quote(s)
	}
	end := maxName
	for end > 0 && !utf8.RuneStart(s[end]) {
		end--
	}
	return strconv.Quote(s[:end]) + "..."
}

// word reads one word of a vocabulary, zero for "not stated".
func word[V rules.Vocabulary, E ~int32](f *faults, field string, e E) V {
	v, ok := rulewire.Decode[V](e)
	if !ok {
		f.add(field, "%d is not a word that this server knows: use one of %v, or a newer server", int32(e), rules.Words[V]())
		return 0
	}
	return v
}
