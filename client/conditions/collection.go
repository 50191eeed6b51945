package conditions

import (
	"cmp"
	"slices"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/wording"
)

// Condition is one row of a rule set that applies to something prescribed.
type Condition struct {
	Kind    Kind
	Finding *rulesetv1.Finding // of the first inventory row that it applied to
	Rows    int64              // of the inventory
	Methods []commonv1.Method  // that it bears on, in the order of the vocabulary
	effect  *ruletablev1.Effect
}

// RuleID names the row with its set.
func (c *Condition) RuleID() string {
	return c.Finding.GetRuleSet().GetRuleSetId() + "/" + c.Finding.GetRuleId()
}

// Text is what the row asks for, in words.
func (c *Condition) Text() string {
	return c.Finding.GetText()
}

// MethodNames lists the methods that it bears on, in words.
func (c *Condition) MethodNames() string {
	var names []string
	for _, m := range c.Methods {
		names = append(names, wording.Method(m))
	}
	return strings.Join(names, ", ")
}

// Collection counts conditions. Its size is bounded by the rows of the rule sets,
// not by those of the inventory. The zero value is ready; it is for one goroutine.
type Collection struct {
	byRule map[client.EffectKey]*Condition
}

// Add counts what the rules found of a method for a number of inventory rows.
func (c *Collection) Add(method commonv1.Method, findings []*rulesetv1.Finding, rows int64) {
	if c.byRule == nil {
		c.byRule = map[client.EffectKey]*Condition{}
	}
	for _, f := range findings {
		key := client.EffectKey{Digest: f.GetRuleSet().GetDigest(), RuleID: f.GetRuleId()}
		if c.byRule[key] == nil {
			c.byRule[key] = &Condition{Finding: f}
		}
		c.byRule[key].count(method, rows)
	}
}

func (c *Condition) count(method commonv1.Method, rows int64) {
	c.Rows += rows
	if at, found := slices.BinarySearch(c.Methods, method); !found {
		c.Methods = slices.Insert(c.Methods, at, method)
	}
}

// Group is the conditions of one kind.
type Group struct {
	Kind       Kind
	Conditions []*Condition
}

// Title is the heading of the group.
func (g Group) Title() string { return g.Kind.Title() }

// asksNothing is true of the name of a season, of the statement that there is no
// exclusion zone, and of annual maxima, which are shown with what is used of them.
func (c *Condition) asksNothing() bool {
	zone := c.effect.GetExclusionZone()
	return c.Kind == SeasonName || c.Kind == AnnualMaximum || zone != nil && zone.GetRadiusUm() == 0
}

// Groups sorts the conditions by kind, and within it by layer of law and id. What
// asks for nothing is left out.
func (c *Collection) Groups(effects client.Effects) []Group {
	var list []*Condition
	for _, one := range c.byRule {
		one.effect = effects.Of(one.Finding)
		one.Kind = kindOf(one.effect)
		if !one.asksNothing() {
			list = append(list, one)
		}
	}
	slices.SortFunc(list, func(a, b *Condition) int {
		x, y := a.Finding.GetRuleSet(), b.Finding.GetRuleSet()
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(x.GetLayer(), y.GetLayer()), cmp.Compare(a.RuleID(), b.RuleID()))
	})
	var groups []Group
	for _, one := range list {
		if len(groups) == 0 || groups[len(groups)-1].Kind != one.Kind {
			groups = append(groups, Group{Kind: one.Kind})
		}
		last := &groups[len(groups)-1]
		last.Conditions = append(last.Conditions, one)
	}
	return groups
}
