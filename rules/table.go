package rules

import (
	"strings"

	"example.org/rootward/rules/civil"
)

// Manifest says whose law a table is, and where and when it holds.
type Manifest struct {
	ID        string // lower-case slug, unique among the sets of a server
	Version   string // of the content: the same version never has other rows
	Title     string // for people
	Publisher string // the agency that answers for it
	Layer     Layer
	Scope     string     // the place it governs, with all places below it: "us/velmora"
	ValidFrom civil.Date // first day on which the set is law
	ValidTo   civil.Date // last day, or no date while it has no end
	ReviewBy  civil.Date // the day by which the agency reviews it, or no date
}

// InForce reports whether the set is law on the date.
func (m *Manifest) InForce(on civil.Date) bool { return inForce(m.ValidFrom, m.ValidTo, on) }

func inForce(from, to, on civil.Date) bool {
	return on.Known() && from <= on && (!to.Known() || on <= to)
}

// Table is a compiled rule set.
type Table struct {
	Manifest Manifest
	Rows     []Row
	Cases    []Case
}

// Row is one rule. Rows are data: what a row says can be listed, compared with
// an earlier version and explained without running any code of its author.
type Row struct {
	ID        string // unique in the table, lower-case slug
	Purpose   string // one sentence for people
	Citation  string // the law or the publication, with its edition
	ValidFrom civil.Date
	ValidTo   civil.Date // last day, or no date while it has no end
	When      Selector
	// Unless are exceptions: the row does not apply where one of them is known to
	// fit, and only perhaps applies where one perhaps fits.
	Unless []Selector `json:",omitempty"`
	// During is the part of every year in which the row applies; zero: all of it.
	During civil.Window `json:",omitzero"`
	// Supersedes are the ids of rows of this or an earlier version whose place it
	// takes.
	Supersedes []string `json:",omitempty"`
	Effect     Effect
}

// InForce reports whether the row is law on the date.
func (r *Row) InForce(on civil.Date) bool { return inForce(r.ValidFrom, r.ValidTo, on) }

// Case is a worked example that the author of a table ships with it: the host
// evaluates it before the table may decide anything.
type Case struct {
	Name      string
	On        civil.Date
	Treatment Treatment
	Site      Surroundings
	Want      Decision
	By        []string `json:",omitempty"` // ids of rows that must be among those that decided
}

// Ref names the exact rule set that decided.
type Ref struct {
	ID      string
	Version string
	Digest  string // SHA-256 of the table's content, lower-case hexadecimal
	Layer   Layer
}

// Set is a table that has been validated, with its name.
type Set struct {
	Ref   Ref
	Table Table
}

// NewSet validates a table, runs its worked cases and names it by digest. Its
// error is a Faults with everything that is wrong.
func NewSet(t Table) (*Set, error) {
	if faults := Validate(&t); len(faults) > 0 {
		return nil, faults
	}
	set := &Set{Table: t, Ref: Ref{
		ID: t.Manifest.ID, Version: t.Manifest.Version, Layer: t.Manifest.Layer, Digest: digest(&t),
	}}
	if faults := set.runCases(); len(faults) > 0 {
		return nil, faults
	}
	return set, nil
}

// Levels lists the places that govern a place, the widest first: for
// "us/velmora/ossel-creek" these are "us", "us/velmora" and the place itself.
func Levels(place string) []string {
	var levels []string
	for i, c := range place {
		if c == '/' {
			levels = append(levels, place[:i])
		}
	}
	if place != "" && !strings.HasSuffix(place, "/") {
		levels = append(levels, place)
	}
	return levels
}
