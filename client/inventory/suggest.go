package inventory

import (
	"fmt"
	"strings"

	"example.org/rootward/rules/nearest"
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
	return problem + orNearest(name, columnNames) + "; to keep a column that is not to be read, begin its name with x_"
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

var columnNames = func() (names []string) {
	for _, c := range columns {
		names = append(names, c.Name)
	}
	return names
}()

// orNearest adds the name that may have been meant, if there is one.
func orNearest(word string, names []string) string {
	if near := nearest.To(word, names...); near != "" {
		return fmt.Sprintf("; %s is the nearest", near)
	}
	return ""
}
