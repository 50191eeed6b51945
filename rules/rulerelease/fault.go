package rulerelease

import (
	"fmt"
	"strings"
)

// Fault is one thing that is wrong with a text: where, what, and what to do.
type Fault struct {
	File    string // empty where the text came from no file
	Line    int    // from 1; zero where it is about the whole
	Column  int    // from 1; zero where it is about the line
	Where   string // the part: "agencies[2].layers"
	Problem string // names the value, the limit and the remedy
}

// Error gives the fault on one line, as compilers do.
func (f Fault) Error() string {
	var b strings.Builder
	if f.File != "" {
		b.WriteString(f.File + ":")
	}
	switch {
	case f.Line > 0 && f.File == "":
		fmt.Fprintf(&b, "line %d:", f.Line)
	case f.Line > 0:
		fmt.Fprintf(&b, "%d:", f.Line)
	}
	if f.Column > 0 {
		fmt.Fprintf(&b, "%d:", f.Column)
	}
	if b.Len() > 0 {
		b.WriteString(" ")
	}
	if f.Where != "" {
		b.WriteString(f.Where + ": ")
	}
	return b.String() + f.Problem
}

// Faults is everything that is wrong with a text.
type Faults []Fault

// Error joins the faults, one a line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, fault := range f {
		lines[i] = fault.Error()
	}
	return strings.Join(lines, "\n")
}
