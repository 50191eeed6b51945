// Package nearest finds what may have been meant by a word that is not known, to be
// suggested to people: nothing takes it for what was meant.
package nearest

import (
	"strings"
	"sync"
)

// Names are names of which one may have been meant. It is safe for concurrent use.
type Names struct {
	names []string
	mu    sync.Mutex
	asked map[string]string // of late
}

// Of makes names.
func Of(names []string) *Names { return &Names{names: names, asked: map[string]string{}} }

// To is the function of that name. Words that are asked again are found at once: a table
// has the same few wrong ones again and again.
func (n *Names) To(word string) string {
	n.mu.Lock()
	near, known := n.asked[word]
	n.mu.Unlock()
	if known || len(word) > longest {
		return near
	}
	const few = 1_000
	near = To(word, n.names...)
	n.mu.Lock()
	defer n.mu.Unlock()
	if len(n.asked) >= few {
		clear(n.asked)
	}
	n.asked[strings.Clone(word)] = near
	return near
}

// longest is how many bytes a word has, in small letters, for which anything is looked for.
const longest = 60

// To gives the name that takes the fewest changes to come to from a word, capitals aside,
// and "" where all take many.
func To(word string, names ...string) string {
	if word = strings.ToLower(word); len(word) > longest {
		return ""
	}
	best, fewest := "", 1+max(1, len(word)/3)
	for _, name := range names {
		low := strings.ToLower(name)
		if len(low) >= len(word)+fewest || len(word) >= len(low)+fewest {
			continue
		}
		if n := changes(word, low); n < fewest {
			best, fewest = name, n
		}
	}
	return best
}

// changes counts the letters to insert, drop or replace between two words, of which the
// second is at most half again as long as the longest.
func changes(a, b string) int {
	var line [longest*3/2 + 2]int
	for j := range len(b) + 1 {
		line[j] = j
	}
	for i := range len(a) {
		diagonal := line[0]
		line[0] = i + 1
		for j := range len(b) {
			replace := diagonal
			if a[i] != b[j] {
				replace++
			}
			diagonal = line[j+1]
			line[j+1] = min(replace, line[j]+1, line[j+1]+1)
		}
	}
	return line[len(b)]
}
