package comparison

import (
	"cmp"
	"fmt"
	"slices"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/wording"
)

// Answers gathers the answers to the rows of an inventory, first under the old law
// and then under the new one. Of each row it keeps four bytes; the rest of its memory
// depends on how many different answers there are.
type Answers struct {
	// MaxExamples is how many examples each cell has at most.
	MaxExamples int
	words       wordlist
	old         []uint32 // by row: index of its answer among words
	cells       map[[2]treatmentv1.Outcome]*Cell
	seen        int // rows under the new law
}

// Cell is the rows that had one outcome under the old law and have one under the new.
type Cell struct {
	Old, New treatmentv1.Outcome
	Rows     int64
	// Otherwise is those of the rows whose method, decision or deciding rules differ.
	Otherwise int64
	Examples  []Example // of those, the first few
}

// Example is one row of a cell.
type Example struct {
	Row      int64 // from 1 in the order of the file
	ID       string
	Old, New string // method, decision and deciding rules, in words
}

// BeginOld begins the answers under the old law. A pass that is begun again starts
// from nothing.
func (a *Answers) BeginOld() (client.Sink, error) {
	*a = Answers{MaxExamples: a.MaxExamples}
	return oldLaw{a}, nil
}

// BeginNew begins the answers under the new law. Those under the old one must be
// complete.
func (a *Answers) BeginNew() (client.Sink, error) {
	a.cells, a.seen = map[[2]treatmentv1.Outcome]*Cell{}, 0
	return newLaw{a}, nil
}

type oldLaw struct{ *Answers }

// Row takes a row's answer under the old law.
func (a oldLaw) Row(r *client.Row) error {
	a.old = append(a.old, a.words.index(r))
	return nil
}

type newLaw struct{ *Answers }

// Row holds a row's answer against that under the old law.
func (a newLaw) Row(r *client.Row) error {
	if a.seen >= len(a.old) {
		return fmt.Errorf("the inventory has more rows than the %d before; leave it alone while it is compared, and compare again", len(a.old))
	}
	was, is := a.old[a.seen], a.words.index(r)
	a.seen++
	c := a.cell(a.words.list[was].outcome, r.Outcome)
	c.Rows++
	if was == is {
		return nil
	}
	c.Otherwise++
	if len(c.Examples) < a.MaxExamples {
		c.Examples = append(c.Examples, Example{
			Row: r.Record.Number, ID: r.Record.Stem.GetStemId(), Old: a.words.list[was].String(), New: a.words.list[is].String(),
		})
	}
	return nil
}

func (a *Answers) cell(was, is treatmentv1.Outcome) *Cell {
	key := [2]treatmentv1.Outcome{was, is}
	if a.cells[key] == nil {
		a.cells[key] = &Cell{Old: was, New: is}
	}
	return a.cells[key]
}

// Cells gives the cells that have rows: those in which what was held back is
// prescribed first, then those in which less is known to be held back, then the
// others, and at the end those whose outcome is the same. Its error is that the
// inventory was changed meanwhile.
func (a *Answers) Cells() ([]Cell, error) {
	if a.seen != len(a.old) {
		return nil, fmt.Errorf("the inventory has %s, and had %d before; leave it alone while it is compared, and compare again", wording.Count(a.seen, "row"), len(a.old))
	}
	var list []Cell
	for _, c := range a.cells {
		list = append(list, *c)
	}
	slices.SortFunc(list, func(x, y Cell) int {
		return cmp.Or(cmp.Compare(x.rank(), y.rank()), cmp.Compare(x.Old, y.Old), cmp.Compare(x.New, y.New))
	})
	return list, nil
}

func (c *Cell) rank() int {
	switch {
	case c.Lifted():
		return 0
	case c.Old == c.New:
		return 3
	case c.New == treatmentv1.Outcome_OUTCOME_DEFERRED:
		return 1
	}
	return 2
}

// Lifted reports whether what was not prescribed under the old law is under the new.
func (c *Cell) Lifted() bool {
	return c.New == treatmentv1.Outcome_OUTCOME_PRESCRIBED && c.Old != c.New
}
