package command

import (
	"fmt"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/wording"
)

// none stands for no table.
const none = "none"

// tables are those that a server knows.
type tables struct {
	active []*commonv1.RuleSetRef
	known  []*commonv1.RuleSetRef
}

// tablesOf asks a server for its tables. It looks into its folder anew.
func tablesOf(r *run, c *client.Client) (*tables, error) {
	releases, err := c.RuleSets.ListReleases(r.ctx, &rulesetv1.ListReleasesRequest{})
	if err != nil {
		return nil, err
	}
	sets, err := c.RuleSets.ListRuleSets(r.ctx, &rulesetv1.ListRuleSetsRequest{})
	if err != nil {
		return nil, err
	}
	t := &tables{}
	for _, s := range sets.GetRuleSets() {
		t.active = append(t.active, s.GetRef())
	}
	t.known = append(t.known, t.active...)
	for _, one := range releases.GetReleases() {
		if one.GetRef() != nil {
			t.known = append(t.known, one.GetRef())
		}
	}
	return t, nil
}

// activeOf gives the active table of a rule set, and nil where there is none.
func (t *tables) activeOf(id string) *commonv1.RuleSetRef {
	for _, ref := range t.active {
		if ref.GetRuleSetId() == id {
			return ref
		}
	}
	return nil
}

// find gives the table of a name: a digest or the start of one, ID@VERSION,
// active:ID, or none, for which it gives nil.
func (t *tables) find(name string) (*commonv1.RuleSetRef, error) {
	if name == none {
		return nil, nil
	}
	if id, ok := strings.CutPrefix(name, "active:"); ok {
		if ref := t.activeOf(id); ref != nil {
			return ref, nil
		}
		return nil, fmt.Errorf("no table of rule set %q is active; rules releases lists what there is, and %s stands for no table", id, none)
	}
	var found []*commonv1.RuleSetRef
	for _, ref := range t.known {
		if isNamed(ref, name) && !has(found, ref) {
			found = append(found, ref)
		}
	}
	switch len(found) {
	case 0:
		return nil, fmt.Errorf("no table is named %q; name one by the first %d or more digits of its digest, as ID@VERSION, as active:ID, or %s; rules releases lists them", name, leastPrefix, none)
	case 1:
		return found[0], nil
	}
	var list []string
	for _, ref := range found {
		list = append(list, wording.RuleSet(ref))
	}
	return nil, fmt.Errorf("%q names %d tables: %s; give more of the digest", name, len(found), strings.Join(list, "; "))
}

// leastPrefix is how much of a digest names a table at least.
const leastPrefix = 6

func isNamed(ref *commonv1.RuleSetRef, name string) bool {
	if id, version, ok := strings.Cut(name, "@"); ok {
		return ref.GetRuleSetId() == id && ref.GetVersion() == version
	}
	return len(name) >= leastPrefix && strings.HasPrefix(ref.GetDigest(), name)
}

func has(list []*commonv1.RuleSetRef, ref *commonv1.RuleSetRef) bool {
	for _, other := range list {
		if other.GetDigest() == ref.GetDigest() {
			return true
		}
	}
	return false
}

// digestOf is empty for no table.
func (t *tables) digestOf(name string) (string, error) {
	ref, err := t.find(name)
	return ref.GetDigest(), err
}
