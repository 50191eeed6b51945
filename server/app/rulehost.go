package app

import (
	"context"

	"example.org/rootward/rules"
	"example.org/rootward/server/api"
	"example.org/rootward/server/confine"
	"example.org/rootward/server/rulehost"
)

// ruleHost gives the host of rule plugins as the services ask for it. It is here so
// that neither of the two knows the other.
type ruleHost struct{ host *rulehost.Host }

var _ api.RuleHost = ruleHost{}

// current implements api.Current.
func (h ruleHost) current() api.Law {
	c := h.host.Catalog()
	law := h.law(c)
	law.Edition = c
	return law
}

func (h ruleHost) law(c *rulehost.Catalog) api.Law {
	law := api.Law{Sets: c.Sets, Govern: c.Govern, Compute: h.host.Compute}
	for _, f := range c.NotLoaded {
		law.NotLoaded = append(law.NotLoaded, api.NotLoaded{Where: f.Where, Problem: f.Problem})
	}
	return law
}

// Trial implements api.RuleHost.
func (h ruleHost) Trial(digests []string) (api.Law, error) {
	c, err := h.host.Trial(digests)
	if err != nil {
		return api.Law{}, err
	}
	return h.law(c), nil
}

// Releases implements api.RuleHost.
func (h ruleHost) Releases(ctx context.Context) ([]api.Release, error) {
	found, err := h.host.Releases(ctx)
	if err != nil {
		return nil, err
	}
	states := map[rulehost.ReleaseState]api.ReleaseState{
		rulehost.Active: api.ReleaseActive, rulehost.Eligible: api.ReleaseEligible, rulehost.Refused: api.ReleaseRefused,
	}
	list := make([]api.Release, len(found))
	for i, r := range found {
		list[i] = api.Release{
			File: r.File, State: states[r.State], Set: r.Set, BinaryDigest: r.BinaryDigest,
			Signers: r.Signers, Problem: r.Problem, Previous: r.Previous,
		}
	}
	return list, nil
}

// Admitted implements api.RuleHost.
func (h ruleHost) Admitted(digest string) (*rules.Set, error) { return h.host.Admitted(digest) }

// Compared implements api.RuleHost.
func (h ruleHost) Compared(old, next string) { h.host.Compared(old, next) }

// Activate implements api.RuleHost.
func (h ruleHost) Activate(ctx context.Context, digest, comparedWith, decidedBy string) (api.Change, error) {
	c, err := h.host.Activate(ctx, digest, comparedWith, decidedBy)
	return api.Change(c), err
}

// RollBack implements api.RuleHost.
func (h ruleHost) RollBack(ctx context.Context, id, activeDigest, decidedBy string) (api.Change, error) {
	c, err := h.host.RollBack(ctx, id, activeDigest, decidedBy)
	return api.Change(c), err
}

// Retire implements api.RuleHost.
func (h ruleHost) Retire(ctx context.Context, id, activeDigest, decidedBy string) (api.Change, error) {
	c, err := h.host.Retire(ctx, id, activeDigest, decidedBy)
	return api.Change(c), err
}

// Status implements api.RuleHost.
func (h ruleHost) Status() api.HostStatus {
	var s api.HostStatus
	for _, l := range confine.Layers() {
		s.Layers = append(s.Layers, api.ConfinementLayer{Name: l.Name, InForce: l.InForce, Detail: l.Detail})
	}
	states := map[rulehost.State]api.PluginState{
		rulehost.Idle: api.PluginCompiled, rulehost.Alive: api.PluginRunning,
		rulehost.BackingOff: api.PluginBackingOff, rulehost.Quarantined: api.PluginQuarantined,
	}
	for _, p := range h.host.Status() {
		s.Plugins = append(s.Plugins, api.PluginStatus{
			File: p.File, RuleSetID: p.RuleSetID, State: states[p.State], Starts: p.Starts, Failures: p.Failures,
			RetryAt: p.RetryAt, Problem: p.Problem, LastLines: p.LastLines,
		})
	}
	return s
}
