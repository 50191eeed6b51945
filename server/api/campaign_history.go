package api

import (
	"cmp"
	"context"
	"slices"
	"sync"

	"google.golang.org/genproto/googleapis/type/date"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/server/ledger"
)

// history is all that is kept of one site, each thing in its last version, by day.
type history struct {
	site    *campaignv1.Site
	surveys []*campaignv1.Survey
	records []*campaignv1.Record
	visits  []*campaignv1.Visit
	plans   []*campaignv1.Plan // that name the site, in the order of the log
	entries int64              // of the site, in the log
}

// history reads what is kept of a site.
func (s *Campaign) history(ctx context.Context, site string) (*history, error) {
	entries, err := s.ledger.Site(ctx, site)
	if err != nil {
		return nil, err
	}
	if len(entries) == 0 {
		return nil, ledgerRefused(ledger.ErrUnknown, site)
	}
	h := &history{entries: int64(len(entries))}
	for _, e := range lastVersions(entries) {
		if err := h.add(e); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(h.surveys, func(a, b *campaignv1.Survey) int { return compareDates(a.GetDate(), b.GetDate()) })
	slices.SortStableFunc(h.visits, func(a, b *campaignv1.Visit) int { return compareDates(a.GetDate(), b.GetDate()) })
	slices.SortStableFunc(h.records, func(a, b *campaignv1.Record) int {
		return a.GetStartTime().AsTime().Compare(b.GetStartTime().AsTime())
	})
	h.plans, err = s.plansFor(ctx, site)
	return h, err
}

// lastVersions leaves out what a later entry takes the place of.
func lastVersions(entries []*ledger.Entry) []*ledger.Entry {
	last := map[string]int64{}
	for _, e := range entries {
		last[e.Name] = e.Version
	}
	return slices.DeleteFunc(slices.Clone(entries), func(e *ledger.Entry) bool { return last[e.Name] != e.Version })
}

func (h *history) add(e *ledger.Entry) error {
	var err error
	switch e.Kind {
	case siteKind:
		h.site, err = readInto(&campaignv1.Site{}, e)
	case surveyKind:
		err = put(&h.surveys, &campaignv1.Survey{}, e)
	case recordKind:
		err = put(&h.records, &campaignv1.Record{}, e)
	case visitKind:
		err = put(&h.visits, &campaignv1.Visit{}, e)
	}
	return err
}

func put[T thing](to *[]T, t T, e *ledger.Entry) error {
	t, err := readInto(t, e)
	*to = append(*to, t)
	return err
}

func compareDates(a, b *date.Date) int {
	return cmp.Or(cmp.Compare(a.GetYear(), b.GetYear()), cmp.Compare(a.GetMonth(), b.GetMonth()), cmp.Compare(a.GetDay(), b.GetDay()))
}

// job finds planned work by the name of its plan and its id; nil if there is none.
func (h *history) job(plan, id string) (*campaignv1.Plan, *campaignv1.Job) {
	for _, p := range h.plans {
		if p.GetName() != plan {
			continue
		}
		for _, j := range p.GetJobs() {
			if j.GetJobId() == id && j.GetSite() == h.site.GetName() {
				return p, j
			}
		}
	}
	return nil, nil
}

// planCache keeps plans as they were read: they never change, and hold most of what a
// campaign has.
type planCache struct {
	sync.Mutex
	read map[string]*campaignv1.Plan
}

// plansFor gives the plans that name a site. They are shared: nobody changes them.
func (s *Campaign) plansFor(ctx context.Context, site string) ([]*campaignv1.Plan, error) {
	entries, err := s.ledger.Kind(ctx, planKind)
	if err != nil {
		return nil, err
	}
	s.plans.Lock()
	defer s.plans.Unlock()
	if s.plans.read == nil {
		s.plans.read = map[string]*campaignv1.Plan{}
	}
	var of []*campaignv1.Plan
	for _, e := range entries {
		p := s.plans.read[e.Name]
		if p == nil {
			if p, err = readInto(&campaignv1.Plan{}, e); err != nil {
				return nil, err
			}
			s.plans.read[e.Name] = p
		}
		if slices.Contains(p.GetSites(), site) {
			of = append(of, p)
		}
	}
	return of, nil
}
