package client

import (
	"context"
	"fmt"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
)

// Effects holds what the rows of rule sets do, by digest of the set and id of the
// row. A finding states it in words alone.
type Effects map[EffectKey]*ruletablev1.Effect

// EffectKey names one row of one exact rule set.
type EffectKey struct {
	Digest, RuleID string
}

// Of gives what the row behind a finding does; nil if that is not known.
func (e Effects) Of(f *rulesetv1.Finding) *ruletablev1.Effect {
	return e[EffectKey{f.GetRuleSet().GetDigest(), f.GetRuleId()}]
}

// Effects asks the server for the rows of the named sets. A set that the server no
// longer has in that very content is left out: its rows must not be explained by
// others of the same name.
func (c *Client) Effects(ctx context.Context, refs []*commonv1.RuleSetRef) (Effects, error) {
	effects := Effects{}
	for _, ref := range refs {
		set, err := c.RuleSets.GetRuleSet(ctx, &rulesetv1.GetRuleSetRequest{RuleSetId: ref.GetRuleSetId()})
		if status.Code(err) == codes.NotFound {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("rule set %s: %w", ref.GetRuleSetId(), err)
		}
		if set.GetRef().GetDigest() != ref.GetDigest() {
			continue
		}
		for _, row := range set.GetTable().GetRows() {
			effects[EffectKey{ref.GetDigest(), row.GetRuleId()}] = row.GetEffect()
		}
	}
	return effects, nil
}
