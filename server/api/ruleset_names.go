package api

import (
	"fmt"
	"slices"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/treatment"
)

// notInCatalogue lists the species and active ingredients that rows name and the
// catalogue does not. It is no fault, since a table may speak of what nobody treats
// here; but a misspelt name fits nothing, so that its row would never apply.
func notInCatalogue(c *treatment.Catalogue, t *rules.Table) []*commonv1.Fault {
	var list []*commonv1.Fault
	for i := range t.Rows {
		r := &t.Rows[i]
		for _, when := range append([]rules.Selector{r.When}, r.Unless...) {
			list = append(list, unknownNames(r.ID, "species", when.Species, func(name string) bool {
				return slices.ContainsFunc(c.Species, func(s treatment.Species) bool { return strings.EqualFold(s.Name, name) })
			})...)
			list = append(list, unknownNames(r.ID, "active ingredient", when.Actives, func(name string) bool { return hasActive(c, name) })...)
		}
		if limit, ok := r.Effect.(rules.Cap); ok {
			list = append(list, unknownNames(r.ID, "active ingredient", []string{limit.Active}, func(name string) bool { return hasActive(c, name) })...)
		}
	}
	return list
}

func hasActive(c *treatment.Catalogue, name string) bool {
	return slices.ContainsFunc(c.Formulations, func(f treatment.Formulation) bool { return strings.EqualFold(f.Active, name) })
}

func unknownNames(row, what string, names []string, known func(string) bool) []*commonv1.Fault {
	var list []*commonv1.Fault
	for _, name := range names {
		if !known(name) {
			list = append(list, &commonv1.Fault{Where: row, Problem: fmt.Sprintf(
				"the catalogue has no %s %q; if the name is misspelt the row never applies: correct it", what, name)})
		}
	}
	return list
}
