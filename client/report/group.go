package report

import (
	"cmp"
	"slices"
	"strings"

	"example.org/rootward/client"
	"example.org/rootward/client/wording"
)

// group is rows that share a text and a detail, with the first few ids.
type group struct {
	text, detail string
	rows         int64
	ids          []string
	rest         bool // it stands for all texts that are not told apart
}

// maxIDs is how many ids stand for a group.
const maxIDs = 3

func (g *group) add(r *client.Row) { g.addID([]byte(r.Record.Stem.GetStemId())) }

func (g *group) addID(id []byte) {
	g.rows++
	if len(g.ids) < maxIDs {
		g.ids = append(g.ids, string(id))
	}
}

func (g *group) addRows(rows int64, ids ...string) {
	g.rows += rows
	g.ids = append(g.ids, ids[:min(len(ids), maxIDs-len(g.ids))]...)
}

// rowsAndIDs gives the count with the first ids, as "12 rows: a-1, a-2, a-3, ...".
func (g *group) rowsAndIDs() string {
	line := wording.Count(g.rows, "row")
	if len(g.ids) > 0 {
		line += ": " + strings.Join(g.ids, ", ")
	}
	if g.rows > int64(len(g.ids)) {
		line += ", ..."
	}
	return line
}

// groups are kept in the order of their first row.
type groups struct {
	byKey map[[2]string]*group
	list  []*group
}

// maxGroups bounds how many texts are told apart; the rest count together. The
// texts name places and limits, of which a large inventory can have many.
const maxGroups = 500

func (g *groups) of(text, detail string) *group {
	key := [2]string{text, detail}
	if found := g.byKey[key]; found != nil {
		return found
	}
	if len(g.list) > maxGroups {
		return g.list[maxGroups]
	}
	made := &group{text: text, detail: detail}
	if len(g.list) == maxGroups {
		made.text, made.detail, made.rest = "other reasons, which the tables name", "", true
	}
	if g.byKey == nil {
		g.byKey = map[[2]string]*group{}
	}
	g.byKey[key] = made
	g.list = append(g.list, made)
	return made
}

// largest sorts by the number of rows; of equal ones the first seen comes first.
func (g *groups) largest() []*group {
	return sorted(g.list, func(a, b *group) int { return cmp.Compare(b.rows, a.rows) })
}

// soonest sorts by the detail, a date; groups without one come last.
func (g *groups) soonest() []*group {
	return sorted(g.list, func(a, b *group) int {
		if (a.detail == "") != (b.detail == "") {
			return last(a.detail == "")
		}
		return cmp.Or(cmp.Compare(a.detail, b.detail), cmp.Compare(b.rows, a.rows))
	})
}

// last is how a compares when one of two comes last.
func last(a bool) int {
	if a {
		return 1
	}
	return -1
}

func sorted(list []*group, compare func(a, b *group) int) []*group {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b *group) int {
		if a.rest != b.rest {
			return last(a.rest)
		}
		return compare(a, b)
	})
	return list
}
