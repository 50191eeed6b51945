package treatment

import (
	"encoding/binary"
	"maps"
	"math/rand/v2"
	"slices"

	"example.org/rootward/rules"
)

// grants are the kinds of the sites of one law by the reductions that were granted, which is
// all that options know of a site.
type grants struct {
	offered   []string          // reductions; nil: no site was granted any
	byGranted map[string]*kinds // by those of them that were granted
	filled    []*kinds          // that hold any
	drawn     *rand.Rand        // which of them to empty; the same in each run
}

// maxFilled is how many are filled at a time, so that memory does not depend on the number of
// sites: each takes some 100 kB and more.
const maxFilled = 32

// of gives the kinds of a site, which no reduction bears on that the law does not offer.
func (l *grants) of(g *rules.Governing, granted []string) *kinds {
	if l.offered == nil && len(granted) > 0 {
		l.offered = g.Reductions()
	}
	var key []byte
	for i, name := range l.offered {
		if slices.Contains(granted, name) {
			key = binary.AppendUvarint(key, uint64(i))
		}
	}
	k := l.byGranted[string(key)]
	if k == nil {
		k = &kinds{}
		l.byGranted[string(key)] = k
	}
	return k
}

// fill notes that kinds are about to be filled. Where that are too many it empties any of
// them, and sites that still have those fill them again: of rows that go round one more than
// there is room for, the first filled would be the next that is wanted, each time.
func (l *grants) fill(k *kinds) {
	if len(l.filled) < maxFilled {
		l.filled = append(l.filled, k)
		return
	}
	at := l.drawn.IntN(maxFilled)
	*l.filled[at] = kinds{}
	l.filled[at] = k
}

// rest drops the kinds that hold none, where that are many.
func (l *grants) rest() {
	if len(l.byGranted) > maxFilled {
		maps.DeleteFunc(l.byGranted, func(_ string, k *kinds) bool { return len(k.byName) == 0 })
	}
}
