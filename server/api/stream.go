package api

import (
	"context"
	"errors"
	"fmt"
	"io"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/treatment"
	"example.org/rootward/server/water"
)

// maxSites is how many sites one stream has at most.
const maxSites = 100_000

// PrescribeStream answers for any number of stems in columns. Its memory depends
// on the sites and on the size of a chunk, not on the number of rows.
func (s *Treatment) PrescribeStream(stream grpc.BidiStreamingServer[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]) error {
	st, err := s.begin(stream)
	if err != nil {
		return err
	}
	defer st.aside.Close()
	err = st.answerAll(stream)
	st.leave() // not where something panicked
	return err
}

// begin reads the first message of a stream.
func (s *Treatment) begin(stream grpc.BidiStreamingServer[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]) (*stemStream, error) {
	first, err := stream.Recv()
	if errors.Is(err, io.EOF) || err == nil && first.GetBegin() == nil {
		return nil, fail(codes.FailedPrecondition, StreamOrder, nil, "the stream has not begun: send begin, with date and sites, as the first message")
	}
	if err != nil {
		return nil, Status(err)
	}
	return s.newStream(stream.Context(), first.GetBegin())
}

func (s *Treatment) newStream(ctx context.Context, p *treatmentv1.StreamBegin) (*stemStream, error) {
	var f faults
	st, err := f.begin(ctx, p, s.catalogue)
	if err != nil {
		return nil, err
	}
	st.measuring.layers = s.layers()
	if st.law, err = s.law(p.GetTrialDigests()); err != nil {
		return nil, err
	}
	st.leave = s.desks.seat(st.session, p.GetSettings())
	st.aside = newAside(s.aside)
	return st, nil
}

// begin reads what begins a stream. The stream lacks its law.
func (f *faults) begin(ctx context.Context, p *treatmentv1.StreamBegin, c *treatment.Catalogue) (*stemStream, error) {
	if n := len(p.GetSites()); n > maxSites {
		return nil, tooMany("sites", n, maxSites, "send several streams")
	}
	on, settings := f.terms(p.GetDate(), p.GetSettings(), c)
	f.unless(len(p.GetSites()) > 0, "sites", "is empty: send 1 to %d", maxSites)
	st := &stemStream{
		session: newSession(c, Law{}, on, settings),
		ctx:     ctx, sites: map[string]*plannedSite{}, byPlace: map[string][]*plannedSite{},
		answer: &chunkAnswer{},
	}
	for i, p := range p.GetSites() {
		field := fmt.Sprintf("sites[%d]", i)
		site := &plannedSite{site: f.site(field, p, c)}
		f.unless(site.ID == "" || st.sites[site.ID] == nil, field+".site_id", "%q is used twice: give each site an id of its own", site.ID)
		st.sites[site.ID] = site
		st.order = append(st.order, site)
		st.byPlace[site.place] = append(st.byPlace[site.place], site)
	}
	st.measuring = f.positions(p.GetSettings())
	f.trial(p.GetTrialDigests())
	return st, f.err()
}

// stemStream is the state of one stream.
type stemStream struct {
	*session
	ctx      context.Context // of the stream
	sites    map[string]*plannedSite
	order    []*plannedSite
	byPlace  map[string][]*plannedSite
	leave    func() // gives the desk back
	aside    *treatment.Aside
	row      row            // reused
	measured water.Measured // of the row; reused
	named    []*plannedSite // of the chunk's words; reused
	answer   *chunkAnswer
}

// chunkAnswer is the answer to a chunk while it grows. Its memory is used anew.
type chunkAnswer struct {
	treatmentv1.PrescriptionChunk
	computed measuredColumns
	doses    doseList
	wording
}

// plannedSite is a site with its law, which it has from the first row of its place
// on, and its planner, which it has from its own first row on.
type plannedSite struct {
	*site
	law     *rules.Governing
	planner *treatment.Planner
}

// answerChunk answers the rows of a checked chunk. What they share is still to be listed in
// the answer, which is valid until it is used for the next one.
func (st *stemStream) answerChunk(rows *chunkRows) *chunkAnswer {
	c := rows.StemChunk
	if len(st.recent) == 0 {
		st.recent = make([]recentWords, 1<<recentBits)
	}
	a := st.answer
	a.reset(c)
	st.forget()
	st.chunks++
	st.named = st.named[:0]
	for _, w := range c.GetWords() {
		st.named = append(st.named, st.sites[w])
	}
	for i := range columnar.Rows(c) {
		st.answerRow(rows, i)
	}
	a.ComputedWater = a.computed.take(a.ComputedWater, columnar.Rows(c))
	a.wording.of, a.wording.chunk = st.pieces, st.chunks
	return a
}

// list completes an answer with what its rows share.
func (a *chunkAnswer) list(before *[]sent) *treatmentv1.PrescriptionChunk {
	a.doses.write(&a.PrescriptionChunk)
	a.wording.write(&a.PrescriptionChunk, before)
	return &a.PrescriptionChunk
}

func (st *stemStream) answerRow(rows *chunkRows, i int) {
	c := rows.StemChunk
	number := c.GetFirstRow() + int64(i)
	st.row.readRow(rows, i)
	site := st.siteOf(c, i)
	if site == nil {
		st.row.add("site_id", "%q is not among the sites that the stream began with: correct it, or begin with that site", named(c, c.GetSite()[i]))
	}
	if len(st.row.list) > 0 {
		plan := st.row.reject(st.catalogue)
		st.write(number, &plan, nil, notKnown)
		return
	}
	g := st.lawOf(site)
	st.measuring.measure(&st.row, g, st.settings, &st.measured)
	plan := st.planner(site, g).Plan(&st.row.stem)
	if plan.Outcome == treatment.Rejected {
		st.write(number, &plan, nil, notKnown)
		return
	}
	st.answer.computed.add(i, &st.row.stem.Water)
	e := st.recall(site.planner, g, &plan)
	st.write(number, &plan, e.of, e.at)
}

// siteOf gives the site of a row; nil if the stream did not begin with it.
func (st *stemStream) siteOf(c *treatmentv1.StemChunk, i int) *plannedSite {
	if at := c.GetSite()[i]; at != notKnown {
		return st.named[at]
	}
	return st.sites[""]
}

// lawOf gives the law at a site. What is computed for the sites of a place is
// computed for all of them together.
func (st *stemStream) lawOf(s *plannedSite) *rules.Governing {
	if s.law != nil {
		return s.law
	}
	same := st.byPlace[s.place]
	facts := make([]rules.SiteFacts, len(same))
	for i, other := range same {
		facts[i] = other.facts
	}
	g := st.governing(s.place)
	st.bound = st.bound || len(g.Computed()) > 0
	for i, law := range st.session.law.atAll(st.ctx, g, facts) {
		same[i].law = law
	}
	return s.law
}

// planner gives a site its planner. Those of a place share what they can.
func (st *stemStream) planner(s *plannedSite, g *rules.Governing) *treatment.Planner {
	if s.planner != nil {
		return s.planner
	}
	s.planner = st.desk.planner(st.catalogue, g, &s.Site)
	s.planner.PutAside(st.aside)
	return s.planner
}

// recall gives the explanation of the row, with its number in the chunk.
func (st *stemStream) recall(p *treatment.Planner, g *rules.Governing, plan *treatment.Plan) *recentWords {
	key, e := wordsKey{g, plan.Key}, &st.recent[plan.Key>>(64-recentBits)]
	if e.wordsKey != key {
		*e = recentWords{wordsKey: key, of: st.explain(p, g, &st.row.stem, plan)}
	}
	if e.chunk != st.chunks {
		e.chunk, e.at = st.chunks, st.index(e.of)
	}
	return e
}

// index is the number of an explanation in the chunk.
func (st *stemStream) index(e *explained) int32 {
	if e.chunk != st.chunks {
		e.chunk, e.at = st.chunks, st.answer.explain(e.pieces)
	}
	return e.at
}

// write adds a row to the answer and counts it.
func (st *stemStream) write(number int64, plan *treatment.Plan, e *explained, explanation int32) {
	st.count(plan, e)
	a := st.answer
	a.Outcome = append(a.Outcome, byte(plan.Outcome))
	a.Explanation = append(a.Explanation, explanation)
	a.Dose = append(a.Dose, a.doses.number(&plan.Dose))
	if second := writeDose(&plan.Second); second != nil {
		a.SecondDoses = append(a.SecondDoses, &treatmentv1.SecondDose{Row: number, Dose: second})
	}
	if plan.Outcome == treatment.Rejected {
		a.Rejections = append(a.Rejections, &treatmentv1.Rejection{Row: number, Faults: writeFaults(plan.Faults)})
	}
}

// reset empties the answer for the next chunk and keeps its columns' memory.
func (a *chunkAnswer) reset(c *treatmentv1.StemChunk) {
	a.computed.reset()
	a.ComputedWater = emptied(a.ComputedWater)
	a.FirstRow = c.GetFirstRow()
	a.doses.reset()
	a.wording.reset()
	a.Outcome, a.Explanation, a.Dose = a.Outcome[:0], a.Explanation[:0], a.Dose[:0]
	a.Pieces, a.SecondDoses, a.Rejections = emptied(a.Pieces), emptied(a.SecondDoses), emptied(a.Rejections)
}

// emptied keeps a list's memory but nothing that it points to.
func emptied[T any](list []T) []T {
	clear(list)
	return list[:0]
}

// uses lists what was counted on each site, in the order in which they were given.
func (st *stemStream) uses() ([]*treatmentv1.SiteUse, error) {
	var uses []*treatmentv1.SiteUse
	for _, site := range st.order {
		if site.planner == nil {
			continue
		}
		list, err := st.usesOf(site)
		if err != nil {
			return nil, err
		}
		for i := range list {
			uses = append(uses, writeUse(site.ID, &list[i], site.Area))
		}
	}
	return uses, nil
}
