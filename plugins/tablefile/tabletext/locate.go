package tabletext

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
)

// locate tells the faults of a table at the places in the text that they are about.
// What follows from a fault that was told already is left out.
func (r *reader) locate(t *pb.Table, err error) {
	var faults rules.Faults
	if !errors.As(err, &faults) {
		r.at(1, 1, "", "%s", err)
		return
	}
	told, parts := r.faults.paths(), partsOf(t)
	for _, f := range faults {
		path := r.about(parts[f.Row], f.Problem)
		if where := r.places.at[path]; where != nil && !told[path] {
			r.at(where.Line, where.Column, path, "%s", f.Problem)
		}
	}
}

// distinct tells of rows with an id that is in use, and gives them another, so that
// what is wrong with them is told where they stand.
func (r *reader) distinct(t *pb.Table) {
	first := map[string]int{}
	for i, row := range t.GetRows() {
		earlier, used := first[row.GetRuleId()]
		if !used {
			first[row.GetRuleId()] = i
			continue
		}
		at := fmt.Sprintf("rows[%d].rule_id", i)
		if where := r.places.at[at]; where != nil {
			r.at(where.Line, where.Column, at, "%s is the id of the row on line %d too; give each row its own", quoted(row.GetRuleId()), r.places.at[fmt.Sprintf("rows[%d]", earlier)].Line)
		}
		row.RuleId = fmt.Sprintf("%s-row-%d", row.GetRuleId(), i+1)
	}
}

// partsOf gives the paths of the rows and the cases by the names that faults use.
func partsOf(t *pb.Table) map[string]string {
	parts := map[string]string{"": "manifest", "manifest": "manifest"}
	name := func(name, path string) {
		if parts[name] == "" {
			parts[name] = path
		}
	}
	for i, row := range t.GetRows() {
		name(fmt.Sprintf("row %d", i+1), fmt.Sprintf("rows[%d]", i))
		name(row.GetRuleId(), fmt.Sprintf("rows[%d]", i))
	}
	for i, c := range t.GetCases() {
		name(fmt.Sprintf("case %d", i+1), fmt.Sprintf("cases[%d]", i))
		name("case "+c.GetName(), fmt.Sprintf("cases[%d]", i))
	}
	return parts
}

var leadingNames = regexp.MustCompile(`^(?:([a-z_.]+(?:\[\d+\])?[a-z_.]*): )?(?:the )?([A-Za-z_-]+)`)

// meant are the keys that faults of package rules speak of in other words.
var meant = map[string]string{"id": "rule_id", "names": "by", "its": "on", "gives": "want"}

// about is the narrowest path in the text that the words of a fault point to: its
// field, the kind of its effect or the key that it begins with.
func (r *reader) about(part, problem string) string {
	found := leadingNames.FindStringSubmatch(problem)
	if found == nil {
		return r.stated(part)
	}
	field, first := found[1], strings.ToLower(strings.ReplaceAll(found[2], "-", "_"))
	if key, other := meant[first]; other {
		first = key
	}
	if part == "manifest" && first == "rule_id" {
		first = "rule_set_id"
	}
	for _, path := range []string{
		join(part, "effect."+field+"."+first), join(part, "effect."+field), join(part, field+"."+first), join(part, field),
		join(part, "effect."+first), join(part, first), join(part, "when."+first),
	} {
		if r.places.at[path] != nil && !strings.HasSuffix(path, ".") {
			return path
		}
	}
	return r.stated(part)
}

// stated is the path, or the whole text where the text has no such part.
func (r *reader) stated(path string) string {
	if r.places.at[path] == nil {
		return ""
	}
	return path
}
