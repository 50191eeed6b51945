package api

import (
	"errors"
	"fmt"
	"io"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/treatment"
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
	for {
		q, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return stream.Send(&treatmentv1.PrescribeStreamResponse{
				Message: &treatmentv1.PrescribeStreamResponse_Summary{Summary: st.summary(st.uses())},
			})
		}
		if err != nil {
			return Status(err)
		}
		if q.GetChunk() == nil {
			return fail(codes.FailedPrecondition, StreamOrder, nil, "a chunk is due after the first message: begin once, then send chunks")
		}
		if err := checkChunk(q.GetChunk(), st.totals.Rows+1); err != nil {
			return err
		}
		if err := stream.Send(st.answerChunk(q.GetChunk())); err != nil {
			return Status(err)
		}
	}
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
	return s.newStream(first.GetBegin())
}

func (s *Treatment) newStream(p *treatmentv1.StreamBegin) (*stemStream, error) {
	if n := len(p.GetSites()); n > maxSites {
		return nil, tooMany("sites", n, maxSites, "send several streams")
	}
	var f faults
	on, settings := f.terms(p.GetDate(), p.GetSettings(), s.catalogue)
	f.unless(len(p.GetSites()) > 0, "sites", "is empty: send 1 to %d", maxSites)
	st := &stemStream{sites: map[string]*plannedSite{}, planners: map[*rules.Governing]*treatment.Planner{}, dictionary: map[wordsKey]int32{}}
	for i, p := range p.GetSites() {
		field := fmt.Sprintf("sites[%d]", i)
		site := &plannedSite{site: f.site(field, p, s.catalogue)}
		f.unless(site.ID == "" || st.sites[site.ID] == nil, field+".site_id", "%q is used twice: give each site an id of its own", site.ID)
		st.sites[site.ID] = site
		st.order = append(st.order, site)
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	st.batch = newBatch(s.catalogue, s.current(), on, settings)
	return st, nil
}

// stemStream is the state of one stream.
type stemStream struct {
	*batch
	sites      map[string]*plannedSite
	order      []*plannedSite
	planners   map[*rules.Governing]*treatment.Planner // the first of each place
	row        row                                     // reused
	dictionary map[wordsKey]int32                      // of the chunk at hand; reused
	answer     treatmentv1.PrescriptionChunk
}

// plannedSite is a site with its planner, which it has from its first row on.
type plannedSite struct {
	*site
	planner *treatment.Planner
}

// answerChunk answers a checked chunk. The answer is valid until the next one.
func (st *stemStream) answerChunk(c *treatmentv1.StemChunk) *treatmentv1.PrescribeStreamResponse {
	st.reset(c)
	for i := range c.GetStemIds() {
		st.answerRow(c, i)
	}
	return &treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: &st.answer}}
}

func (st *stemStream) answerRow(c *treatmentv1.StemChunk, i int) {
	number := c.GetFirstRow() + int64(i)
	siteID := st.row.readRow(c, i)
	site := st.sites[siteID]
	if site == nil {
		st.row.add("site_id", "%q is not among the sites that the stream began with: correct it, or begin with that site", siteID)
	}
	if len(st.row.list) > 0 {
		plan := st.row.reject(st.catalogue)
		st.write(number, &plan, nil, notKnown)
		return
	}
	g := st.governing(site.place)
	plan := st.planner(site, g).Plan(&st.row.stem)
	if plan.Outcome == treatment.Rejected {
		st.write(number, &plan, nil, notKnown)
		return
	}
	e := st.explain(site.planner, g, &st.row.stem, &plan)
	st.write(number, &plan, e, st.index(wordsKey{g, plan.Key}, e))
}

// planner gives a site its planner. Those of a place share what they can.
func (st *stemStream) planner(s *plannedSite, g *rules.Governing) *treatment.Planner {
	if s.planner != nil {
		return s.planner
	}
	if first := st.planners[g]; first != nil {
		s.planner = first.For(&s.Site)
	} else {
		s.planner = treatment.NewPlanner(st.catalogue, g, &s.Site, st.settings)
		st.planners[g] = s.planner
	}
	return s.planner
}

// index is the place of an explanation in the chunk's own list.
func (st *stemStream) index(key wordsKey, e *explained) int32 {
	at, ok := st.dictionary[key]
	if !ok {
		at = int32(len(st.answer.Explanations))
		st.answer.Explanations = append(st.answer.Explanations, e.message)
		st.dictionary[key] = at
	}
	return at
}

// write adds a row to the answer and counts it.
func (st *stemStream) write(number int64, plan *treatment.Plan, e *explained, explanation int32) {
	st.count(plan, e)
	a := &st.answer
	a.Outcome = append(a.Outcome, writeOutcome(plan.Outcome))
	a.Explanation = append(a.Explanation, explanation)
	st.writeDose(&plan.Dose)
	if second := writeDose(&plan.Second); second != nil {
		a.SecondDoses = append(a.SecondDoses, &treatmentv1.SecondDose{Row: number, Dose: second})
	}
	if plan.Outcome == treatment.Rejected {
		a.Rejections = append(a.Rejections, &treatmentv1.Rejection{Row: number, Faults: writeFaults(plan.Faults)})
	}
}

func (st *stemStream) writeDose(d *treatment.Dose) {
	a := &st.answer
	a.Stems = append(a.Stems, d.Stems)
	a.Cuts = append(a.Cuts, d.Cuts)
	a.CutUl = append(a.CutUl, int64(d.PerCut))
	a.MixUl = append(a.MixUl, int64(d.Mix))
	a.ProductUl = append(a.ProductUl, int64(d.Product))
	a.CarrierUl = append(a.CarrierUl, int64(d.Carrier))
	a.AdjuvantUl = append(a.AdjuvantUl, int64(d.Adjuvant))
	a.DyeUl = append(a.DyeUl, int64(d.Dye))
	a.AeUg = append(a.AeUg, int64(d.AE))
	rate := int64(notKnown)
	if d.HasRate {
		rate = int64(d.Rate)
	}
	a.RateUgPerAc = append(a.RateUgPerAc, rate)
}

// reset empties the answer for the next chunk and keeps its columns' memory.
func (st *stemStream) reset(c *treatmentv1.StemChunk) {
	clear(st.dictionary)
	a := &st.answer
	a.FirstRow = c.GetFirstRow()
	a.Outcome, a.Explanation = a.Outcome[:0], a.Explanation[:0]
	a.Explanations, a.SecondDoses, a.Rejections = emptied(a.Explanations), emptied(a.SecondDoses), emptied(a.Rejections)
	for _, column := range []*[]int64{
		&a.Stems, &a.Cuts, &a.CutUl, &a.MixUl, &a.ProductUl, &a.CarrierUl, &a.AdjuvantUl, &a.DyeUl, &a.AeUg, &a.RateUgPerAc,
	} {
		*column = (*column)[:0]
	}
}

// emptied keeps a list's memory but nothing that it points to.
func emptied[T any](list []*T) []*T {
	clear(list)
	return list[:0]
}

// uses lists what was counted on each site, in the order in which they were given.
func (st *stemStream) uses() []*treatmentv1.SiteUse {
	var uses []*treatmentv1.SiteUse
	for _, site := range st.order {
		if site.planner != nil {
			uses = append(uses, writeUses(site.site, site.planner)...)
		}
	}
	return uses
}
