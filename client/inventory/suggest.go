package inventory

import (
	"fmt"
	"strings"
)

// unknownColumn says what could have been meant by a name that is no column.
func unknownColumn(name string) string {
	if name == "" {
		return "the column has no name; name it, or take it out"
	}
	if units := inUnits(name); len(units) > 0 {
		return fmt.Sprintf("does not say its unit, and none is assumed; name it %s", strings.Join(units, " or "))
	}
	problem := "is not a column of an inventory"
	if near := nearest(name); near != "" {
		problem += fmt.Sprintf("; %s is the nearest", near)
	}
	return problem + "; to keep a column that is not to be read, begin its name with x_"
}

// inUnits lists the columns that state a quantity of this name in some unit.
func inUnits(name string) []string {
	var list []string
	for _, c := range columns {
		rest, ok := strings.CutPrefix(c.Name, name+"_")
		if ok && c.Unit != "" && (strings.Count(rest, "_") == 0 || strings.HasPrefix(rest, "per_")) {
			list = append(list, c.Name)
		}
	}
	return list
}

// nearest is the column whose name takes the fewest changes, if they are few.
func nearest(name string) string {
	const longest = 60 // twice the longest name
	if len(name) > longest {
		return ""
	}
	best, fewest := "", 1+max(1, len(name)/3)
	for _, c := range columns {
		if n := changes(strings.ToLower(name), strings.ToLower(c.Name)); n < fewest {
			best, fewest = c.Name, n
		}
	}
	return best
}

// changes counts the letters to insert, drop or replace between two names.
func changes(a, b string) int {
	line := make([]int, len(b)+1)
	for j := range line {
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
