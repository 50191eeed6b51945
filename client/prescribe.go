package client

import (
	"context"
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/civil"

	"example.org/rootward/client/inventory"
)

// Options says what holds for all rows of an inventory.
type Options struct {
	Date     civil.Date            // the day of treatment at the place
	Settings *treatmentv1.Settings // nil: the server's defaults
	// Site keeps only the rows of one site, and rejected rows that do not tell
	// their site; empty keeps all.
	Site string
	// Applied is what was applied in the calendar year before, by site.
	Applied map[string][]*treatmentv1.AppliedAmount
	// Granted is the reductions of buffers that were granted, by site, each as
	// "rule set/rule".
	Granted map[string][]string
	// Trial are digests of tables that are tried in the place of the active ones of
	// the same rule set.
	Trial []string
	// Total is told how many rows there are to answer, about, and again whenever that is
	// known better; nil if nobody wants to know. It is not told where Site is stated.
	Total func(rows int64)
	// Unread is told by Submit how many rows could not be read, and so were not
	// uploaded; nil if nobody wants to know. It is not told of a batch that was started
	// before.
	Unread func(rows int64)
	// Progress is told from time to time how many rows have been answered in the
	// pass; nil if nobody wants to know.
	Progress func(pass int, rows int64)
}

// Sink takes the answers, once for each row, in the order of the file. An error
// ends the call that feeds it.
type Sink interface {
	Row(*Row) error
}

// Result is what holds for an inventory as a whole.
type Result struct {
	Sites []*treatmentv1.Site
	// Totals counts the rows of the file, those that could not be read included.
	Totals *treatmentv1.Totals
	// Summary is the server's. It does not know of the rows that were never sent.
	Summary *treatmentv1.Summary
}

// Prescribe answers for every row of an inventory file. Rows that cannot be read
// are among the answers, rejected; everything else is decided by the server.
//
// A site whose annual maximum does not cover all its stems is split over seasons,
// and which stems are this season's is known only after all have been seen. Then
// the inventory is prescribed once more, and so it is where a row says something of its
// site that no row did up to the end of the site's first block. So begin is called at the start of each
// pass for an empty sink; what an earlier one was given is void, and so is
// everything if Prescribe fails.
func (c *Client) Prescribe(ctx context.Context, path string, o Options, begin func() (Sink, error)) (*Result, error) {
	reading := startReading(ctx, path, &o)
	defer func() { reading.stop() }()
	var sites []*treatmentv1.Site // nil: they come with their rows
	if o.statesSites() {
		var err error
		if sites, err = sitesOf(ctx, path, &o); err != nil {
			return nil, err
		}
	}
	shared := false
	for pass := 1; ; pass++ {
		sink, err := begin()
		if err != nil {
			return nil, err
		}
		if pass > 1 {
			reading = startReading(ctx, path, &o)
		}
		p := newPass(c, reading, &o, sites, sink, pass)
		if err := p.run(ctx); err != nil {
			return nil, err
		}
		o.expect(p.read)
		if sites == nil {
			if sites = reading.sites; reading.late {
				continue
			}
		}
		if split := withShares(sites, p.summary.GetSiteUses()); split != nil && !shared {
			sites, shared = split, true
			continue
		}
		return &Result{Sites: sites, Totals: p.totals, Summary: p.summary}, nil
	}
}

// statesSites reports whether something is stated of sites that the file is to have: whether
// it has them is to be known before anything is prescribed.
func (o *Options) statesSites() bool {
	return o.Site != "" || len(o.Applied) > 0 || len(o.Granted) > 0
}

func (o *Options) expect(rows int64) {
	if o.Total != nil && o.Site == "" {
		o.Total(rows)
	}
}

// sitesOf makes the first pass over the file. What is wrong with single rows comes
// up again when they are read, with all that is wrong with them.
func sitesOf(ctx context.Context, path string, o *Options) ([]*treatmentv1.Site, error) {
	survey, err := surveyOf(ctx, path)
	if err != nil {
		return nil, err
	}
	sites := survey.Sites
	o.expect(survey.Rows)
	if o.Site != "" {
		sites = slices.DeleteFunc(sites, func(s *treatmentv1.Site) bool { return s.GetSiteId() != o.Site })
		if len(sites) == 0 {
			return nil, fmt.Errorf("%s has no site %q; the column locationID names the sites", path, o.Site)
		}
	}
	for _, s := range sites {
		s.AppliedThisYear, s.GrantedReductions = o.Applied[s.GetSiteId()], o.Granted[s.GetSiteId()]
	}
	return sites, checkStated(path, o, sites)
}

// surveyOf does not wait for the end of a large file when ctx ends: reading it
// goes on unheeded until then.
func surveyOf(ctx context.Context, path string) (*inventory.Survey, error) {
	var survey *inventory.Survey
	read := make(chan error, 1)
	go func() {
		var err error
		survey, err = inventory.SurveyOf(path)
		read <- err
	}()
	select {
	case err := <-read:
		return survey, err
	case <-ctx.Done():
		return nil, context.Cause(ctx)
	}
}

// checkStated makes sure that nothing stated is lost: a site that is misspelt would
// have its annual maximum passed.
func checkStated(path string, o *Options, sites []*treatmentv1.Site) error {
	known := func(id string) bool {
		return slices.ContainsFunc(sites, func(s *treatmentv1.Site) bool { return s.GetSiteId() == id })
	}
	for id := range o.Applied {
		if !known(id) {
			return fmt.Errorf("an applied amount is stated for site %q, which is not among the sites of %s", id, path)
		}
	}
	for id := range o.Granted {
		if !known(id) {
			return fmt.Errorf("a granted reduction is stated for site %q, which is not among the sites of %s", id, path)
		}
	}
	return nil
}

// withShares gives the sites with this season's shares where some were missing,
// and nil where none were.
func withShares(sites []*treatmentv1.Site, uses []*treatmentv1.SiteUse) []*treatmentv1.Site {
	missing := map[string][]*treatmentv1.SeasonShare{}
	for _, u := range uses {
		if u.GetSeasons() > 1 && u.GetShare() != nil {
			missing[u.GetSiteId()] = append(missing[u.GetSiteId()], u.GetShare())
		}
	}
	if len(missing) == 0 {
		return nil
	}
	shared := make([]*treatmentv1.Site, len(sites))
	for i, s := range sites {
		shared[i] = s
		if shares := missing[s.GetSiteId()]; shares != nil {
			shared[i] = proto.CloneOf(s)
			shared[i].SeasonShares = shares
		}
	}
	return shared
}
