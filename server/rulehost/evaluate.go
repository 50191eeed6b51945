package rulehost

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
)

// Compute asks the plugins for the computed rows of a governing law at each of the
// sites, and gives the law of each: one that is shared by the sites that got equal
// answers. Where a plugin fails, or a site lacks a fact that a row needs, that row
// says UNDETERMINED there, with the reason; the others are not affected. It returns
// early when ctx ends, with what is not answered by then UNDETERMINED.
func (h *Host) Compute(ctx context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
	rows := g.Computed()
	answers := make([][]rules.Answer, len(rows))
	series := fingerprints{}
	for i, r := range rows {
		answers[i] = h.running.evaluate(ctx, r, g.On, sites, series)
	}
	return g.ResolveAll(rows, answers, len(sites))
}

// Close ends the plugins that are kept running, and returns once they have ended, and
// those that gave their tables. Rows that they compute are UNDETERMINED from then on.
func (h *Host) Close() {
	h.changing.Lock() // what loads would start plugins once all have ended
	defer h.changing.Unlock()
	h.running.end()
	h.config.ending.Wait()
}

// evaluate gives the answer of a row at each site.
func (f *fleet) evaluate(ctx context.Context, r rules.ComputedRow, on civil.Date, sites []rules.SiteFacts, series fingerprints) []rules.Answer {
	needs := r.Row.Effect.(rules.Computed).Needs
	s := f.of(r.Set.Ref.Digest)
	answers := make([]rules.Answer, len(sites))
	shown := make([]rules.SiteFacts, len(sites)) // what the row is told of each
	questions := make([]question, len(sites))
	var open []int
	first := map[question]int{}
	same := map[int]int{}
	for i := range sites {
		site, missing := sites[i].For(needs)
		if !missing.Empty() {
			answers[i] = undecided("not known of the site: %s; state it", missing)
			continue
		}
		shown[i] = site
		questions[i] = questionOf(r, s, on, site, series)
		if at, ok := first[questions[i]]; ok {
			same[i] = at
			continue
		}
		first[questions[i]] = i
		open = append(open, i)
	}
	open = f.cache.find(questions, answers, open)
	f.ask(ctx, s, &inquiry{r, on, shown, questions, answers}, open)
	for i, at := range same {
		answers[i] = answers[at]
	}
	return answers
}

// undecided is an answer that leaves a row UNDETERMINED.
func undecided(format string, args ...any) rules.Answer {
	return rules.Answer{Kind: rules.FactMissing, Words: fmt.Sprintf(format, args...)}
}

// fingerprints are the SHA-256 of series of temperatures, worked out once for each.
type fingerprints map[*rules.TemperatureSeries][32]byte

func (f fingerprints) of(t *rules.TemperatureSeries) [32]byte {
	if t == nil {
		return [32]byte{}
	}
	sum, ok := f[t]
	if !ok {
		h := sha256.New()
		_ = binary.Write(h, binary.LittleEndian, []int64{int64(t.First), int64(len(t.Min)), int64(len(t.Max))})
		_ = binary.Write(h, binary.LittleEndian, t.Min)
		_ = binary.Write(h, binary.LittleEndian, t.Max)
		sum = [32]byte(h.Sum(nil))
		f[t] = sum
	}
	return sum
}

func questionOf(r rules.ComputedRow, s *supervised, on civil.Date, site rules.SiteFacts, series fingerprints) question {
	q := question{digest: r.Set.Ref.Digest, row: r.Row.ID, on: on, site: site, series: series.of(site.Temperatures)}
	q.site.Temperatures = nil
	if s != nil {
		q.build = s.build
	}
	return q
}

// inquiry is one row that is asked of sites.
type inquiry struct {
	rules.ComputedRow
	on        civil.Date
	sites     []rules.SiteFacts
	questions []question
	answers   []rules.Answer
}

// ask has the plugin of the row, which is nil once it was taken out of use, answer for
// the sites at some places.
func (f *fleet) ask(ctx context.Context, s *supervised, q *inquiry, places []int) {
	for len(places) > 0 {
		n := chunk(q.sites, places)
		err := error(errWithdrawn)
		if s != nil {
			err = f.askChunk(ctx, s, q, places[:n])
		}
		if err != nil {
			q.give(places, undecided("rule plugin of %s cannot compute row %s: %s", q.Set.Ref.ID, q.Row.ID, err))
			return
		}
		places = places[n:]
	}
}

func (q *inquiry) give(places []int, a rules.Answer) {
	for _, i := range places {
		q.answers[i] = a
	}
}

// What one question to a plugin holds at most. A plugin takes messages of up to
// 4 MiB. It has the time of one question for all sites in it, and gives way to the
// server: with ten busy processes a core, 4,096 sites took over a second.
const (
	maxChunkSites = 4_096
	maxChunkBytes = 2 << 20
)

// chunk is how many of the places, one at least, fit into one question.
func chunk(sites []rules.SiteFacts, places []int) int {
	const siteBytes, dayBytes = 20, 10 // at most, as encoded
	bytes := 0
	series := map[*rules.TemperatureSeries]bool{}
	for n, i := range places {
		bytes += siteBytes
		if t := sites[i].Temperatures; t != nil && !series[t] {
			series[t] = true
			bytes += dayBytes * len(t.Min)
		}
		if n == maxChunkSites || n > 0 && bytes > maxChunkBytes {
			return n
		}
	}
	return len(places)
}

// askChunk asks once. When ctx ends it returns; the plugin answers all the same, and
// what it answers is kept.
func (f *fleet) askChunk(ctx context.Context, s *supervised, q *inquiry, places []int) error {
	select {
	case s.turn <- struct{}{}:
	case <-ctx.Done():
		return errGaveUp
	}
	// Another may have asked the same while this one waited for its turn.
	places = f.cache.find(q.questions, q.answers, places)
	if len(places) == 0 {
		<-s.turn
		return nil
	}
	answered := make(chan error, 1)
	var got []rules.Answer
	go func() {
		defer func() { <-s.turn }()
		var err error
		got, err = f.put(s, q, places)
		answered <- err
	}()
	select {
	case err := <-answered:
		for n, a := range got {
			q.answers[places[n]] = a
		}
		return err
	case <-ctx.Done():
		return errGaveUp
	}
}

var errGaveUp = errors.New("the request ended before it had answered; run again")

// put asks the plugin for a row at the places and keeps what it answers. Who calls it
// has the turn.
func (f *fleet) put(s *supervised, q *inquiry, places []int) ([]rules.Answer, error) {
	sites := make([]rules.SiteFacts, len(places))
	for n, i := range places {
		sites[n] = q.sites[i]
	}
	req := &pluginv1.EvaluateSitesRequest{
		TableDigest: s.digest, RuleIds: []string{q.Row.ID}, On: rulewire.EncodeDate(q.on), Sites: rulewire.EncodeSites(sites),
	}
	var answers []rules.Answer
	err := s.ask(q.Row.ID, req, func(res *pluginv1.EvaluateSitesResponse) (err error) {
		answers, err = readAnswers(res, q.Row.ID, len(sites))
		return err
	})
	if err != nil {
		return nil, err
	}
	for n, i := range places {
		f.cache.add(q.questions[i], answers[n])
	}
	return answers, nil
}

func readAnswers(res *pluginv1.EvaluateSitesResponse, row string, sites int) ([]rules.Answer, error) {
	if n := len(res.GetRules()); n != 1 {
		return nil, fmt.Errorf("answered for %d rows and was asked for one", n)
	}
	answers, err := rulewire.DecodeAnswers(res.GetRules()[0], row, sites)
	if err != nil {
		return nil, fmt.Errorf("gave an answer that cannot be one: %w", err)
	}
	words := map[string]string{}
	for i := range answers {
		w, ok := words[answers[i].Words]
		if !ok {
			w = printable(answers[i].Words)
			words[answers[i].Words] = w
		}
		answers[i].Words = w
	}
	return answers, nil
}
