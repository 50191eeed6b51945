package rulesdk

import (
	"context"
	"fmt"
	"runtime/debug"
	"sync"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// Plugin is a rule plugin whose table has rows that need computing.
type Plugin struct {
	// Table gives the table, the same at each call.
	Table func() rules.Table
	// Evaluate computes a row, named by its id, for sites on a day of treatment: an
	// answer a site, in their order. It must be deterministic, and give equal sites
	// equal answers whatever others there are, since a host keeps them. A site has
	// only the facts that the row needs, and all of those. It should end when ctx
	// does; an error or a panic leaves the row undecided at all of the sites.
	Evaluate func(ctx context.Context, row string, on civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error)
}

// digest is the table's, worked out once.
func (p *Plugin) digest() func() (string, error) {
	return sync.OnceValues(func() (string, error) {
		set, err := compile(p.Table)
		if err != nil {
			return "", err
		}
		return set.Ref.Digest, nil
	})
}

// EvaluateSites implements rootward.plugin.v1.RulePluginService.
func (s *service) EvaluateSites(ctx context.Context, req *pluginv1.EvaluateSitesRequest) (res *pluginv1.EvaluateSitesResponse, err error) {
	if s.plugin.Evaluate == nil {
		return nil, status.Error(codes.Unimplemented, "this plugin computes no rows")
	}
	if err := s.checkDigest(req.GetTableDigest()); err != nil {
		return nil, err
	}
	on, sites, err := readSites(req)
	if err != nil {
		return nil, err
	}
	res = &pluginv1.EvaluateSitesResponse{}
	for _, row := range req.GetRuleIds() {
		answers, err := s.evaluate(ctx, row, on, sites)
		if err != nil {
			return nil, err
		}
		res.Rules = append(res.Rules, rulewire.EncodeAnswers(row, answers))
	}
	return res, nil
}

func (s *service) checkDigest(asked string) error {
	own, err := s.digest()
	if err != nil {
		return status.Errorf(codes.FailedPrecondition, "the rule table does not load: %s", err)
	}
	if asked != own {
		return status.Errorf(codes.FailedPrecondition,
			"this plugin's table has digest %.12s and the host asked for rows of %.12s; load the plugin again", own, asked)
	}
	return nil
}

func readSites(req *pluginv1.EvaluateSitesRequest) (civil.Date, []rules.SiteFacts, error) {
	on, err := rulewire.DecodeDate(req.GetOn())
	if err != nil || !on.Known() {
		return 0, nil, status.Error(codes.InvalidArgument, "on: is no day; state the day of treatment")
	}
	sites, err := rulewire.DecodeSites(req.GetSites())
	if err != nil {
		return 0, nil, status.Error(codes.InvalidArgument, err.Error())
	}
	return on, sites, nil
}

// evaluate runs the author's code for one row.
func (s *service) evaluate(ctx context.Context, row string, on civil.Date, sites []rules.SiteFacts) (answers []rules.Answer, err error) {
	defer func() {
		if p := recover(); p != nil {
			problem := fmt.Sprintf("computing row %s panicked: %v", row, p)
			fmt.Fprintf(s.log, "%s\n%s", problem, debug.Stack())
			answers, err = nil, status.Error(codes.Internal, problem)
		}
	}()
	if err := ctx.Err(); err != nil {
		return nil, status.FromContextError(err).Err()
	}
	answers, err = s.plugin.Evaluate(ctx, row, on, sites)
	switch {
	case ctx.Err() != nil:
		return nil, status.FromContextError(ctx.Err()).Err()
	case err != nil:
		return nil, status.Errorf(codes.Internal, "computing row %s: %s", row, err)
	case len(answers) != len(sites):
		return nil, status.Errorf(codes.Internal, "computing row %s gave %d answers for %d sites", row, len(answers), len(sites))
	}
	return answers, nil
}
