package tabletext

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing that is wrong with a text.
type Fault struct {
	File         string
	Line, Column int    // from 1, in characters
	Path         string // "rows[2].effect.buffer.distance"; empty for the whole text
	Problem      string // names the value, the limit and the remedy
}

// String gives the fault as "rules.yaml:12:7: path: problem".
func (f Fault) String() string {
	where := fmt.Sprintf("%s:%d:%d: ", f.File, f.Line, f.Column)
	if f.Path != "" {
		where += f.Path + ": "
	}
	return where + f.Problem
}

// Faults is everything that is wrong with a text, in its order.
type Faults []Fault

// Error joins the faults, one a line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, fault := range f {
		lines[i] = fault.String()
	}
	return strings.Join(lines, "\n")
}

func (f Faults) sort() {
	slices.SortStableFunc(f, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
}

// paths are those at or above which some fault was told.
func (f Faults) paths() map[string]bool {
	told := map[string]bool{}
	for _, fault := range f {
		path := fault.Path
		for i := len(path) - 1; i > 0; i-- {
			if path[i] == '.' || path[i] == '[' {
				told[path[:i]] = true
			}
		}
		told[path] = true
	}
	return told
}

// nearest is the name that differs least from a word, and false if all differ much.
func nearest(word string, names []string) (string, bool) {
	const longest = 64 // no name has half as many letters, and a longer word takes time
	if len(word) > longest {
		return "", false
	}
	best, least := "", max(2, len(word)/3)+1
	for _, name := range names {
		if d := distance(strings.ToLower(word), strings.ToLower(name)); d < least {
			best, least = name, d
		}
	}
	return best, best != ""
}

// distance counts the letters to put in, take out or change.
func distance(a, b string) int {
	previous := make([]int, len(b)+1)
	for j := range previous {
		previous[j] = j
	}
	for i := range len(a) {
		current := []int{i + 1}
		for j := range len(b) {
			change := previous[j]
			if a[i] != b[j] {
				change++
			}
			current = append(current, min(change, previous[j+1]+1, current[j]+1))
		}
		previous = current
	}
	return previous[len(b)]
}

// notOneOf says that a word is not among those that there are.
func notOneOf(word string, names []string) string {
	said := fmt.Sprintf("%s is not one of %s", quoted(word), strings.Join(names, ", "))
	if name, near := nearest(word, names); near {
		said += fmt.Sprintf("; did you mean %q?", name)
	}
	return said
}

// quoted shows a value, shortened where it is long.
func quoted(s string) string {
	const most = 80
	if runes := []rune(s); len(runes) > most {
		s = string(runes[:most]) + "..."
	}
	return fmt.Sprintf("%q", s)
}
