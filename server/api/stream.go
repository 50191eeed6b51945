package api

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"sync"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/treatment"
)

// A stream has at most so many sites, and what is stated of them takes at most so many bytes as
// sent, in one message or in several: what a server takes in one, so that several bring no more.
const (
	maxSites     = 100_000
	maxSiteBytes = 16 << 20
)

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
	st.aside, st.passages = newAside(s.aside), &s.passages
	return st, nil
}

// begin reads what begins a stream. The stream lacks its law.
func (f *faults) begin(ctx context.Context, p *treatmentv1.StreamBegin, c *treatment.Catalogue) (*stemStream, error) {
	on, settings := f.terms(p.GetDate(), p.GetSettings(), c)
	st := &stemStream{
		session: newSession(c, Law{}, on, settings), ctx: ctx, sites: map[string]*plannedSite{},
		governed: map[string]*rules.Governing{}, answers: map[rules.Answer]uint64{}, laws: map[lawKey]*rules.Governing{},
	}
	if err := st.addSites(f, p.GetSites()); err != nil {
		return nil, err
	}
	st.measuring = f.positions(p.GetSettings())
	f.trial(p.GetTrialDigests())
	return st, f.err()
}

// stemStream is the state of one stream.
type stemStream struct {
	*session
	ctx     context.Context // of the stream, while it wants law
	adding  sync.RWMutex    // of what the sites are, up to where none are added any more
	sites   map[string]*plannedSite
	order   []*plannedSite           // as they were stated; what it holds stays there
	byPlace map[string]*sitesOfPlace // of the sites that were stated last; all of a batch
	bytes   int                      // of what was stated of sites

	placing  sync.Mutex // of what the desk and the stream have of places
	governed map[string]*rules.Governing
	answers  map[rules.Answer]uint64     // numbers, from 1, of those that were computed
	laws     map[lawKey]*rules.Governing // with these

	leave    func() // gives the desk back
	aside    *treatment.Aside
	passages *passages
	held     *doseList // of a chunk some of whose rows were held back; reused
}

// lawKey tells the laws of sites apart: by the place, and the numbers of what was computed.
type lawKey struct{ place, answers string }

// chunkAnswer is the answer to a chunk while it grows. Its memory is used anew.
type chunkAnswer struct {
	treatmentv1.PrescriptionChunk
	named     []*plannedSite // by the chunk's words
	proposals []proposal
	maxima    []*treatment.Maxima
	computed  measuredColumns
	doses     doseList
	wording
}

// plannedSite is a site with its law, which it has from the first row of its place
// on, and the planner that counts, which it has from its own first row on.
type plannedSite struct {
	*site
	at      int32         // in the order in which they were stated
	near    *sitesOfPlace // that were stated with it
	law     *rules.Governing
	planner *treatment.Planner
}

// dropHeld drops what was proposed for rows that are held back.
func (st *stemStream) dropHeld(a *chunkAnswer) {
	a.SecondDoses = slices.DeleteFunc(a.SecondDoses, func(d *treatmentv1.SecondDose) bool {
		return treatment.Outcome(a.Outcome[d.GetRow()-a.FirstRow]) != treatment.Prescribed
	})
	if st.held == nil {
		st.held = &doseList{}
	}
	st.held.reset()
	for i, number := range a.Dose {
		if number != 0 {
			a.Dose[i] = st.held.number(a.doses.at(number))
		}
	}
	a.doses.doses, st.held.doses = st.held.doses, a.doses.doses
}

// addSites adds sites that are stated together, unless something is wrong with them. Chunks may
// be proposed for meanwhile; it is for one goroutine.
func (st *stemStream) addSites(f *faults, stated []*treatmentv1.Site) error {
	if n := len(st.order) + len(stated); n > maxSites {
		return tooMany("sites", n, maxSites, "send several streams")
	}
	for _, p := range stated {
		st.bytes += proto.Size(p)
	}
	if st.bytes > maxSiteBytes {
		return tooMany("bytes of sites", st.bytes, maxSiteBytes, "send several streams")
	}
	before := len(f.list)
	f.unless(len(stated) > 0, "sites", "is empty: state at least one")
	fresh, list, byPlace := map[string]*plannedSite{}, make([]*plannedSite, len(stated)), map[string]*sitesOfPlace{}
	for i, p := range stated {
		at := len(st.order) + i
		field := fmt.Sprintf("sites[%d]", at)
		site := &plannedSite{site: f.site(field, p, st.catalogue), at: int32(at)}
		f.unless(site.ID == "" || st.sites[site.ID] == nil && fresh[site.ID] == nil, field+".site_id", "%q was stated before: give each site an id of its own, and state it once", site.ID)
		fresh[site.ID], list[i] = site, site
		st.place(site, byPlace)
	}
	if len(f.list) > before {
		return nil
	}
	st.adding.Lock()
	defer st.adding.Unlock()
	maps.Copy(st.sites, fresh)
	st.order, st.byPlace = append(st.order, list...), byPlace
	return nil
}

// named adds to a list the sites of words, nil for a word that is none of the first so many
// that were stated, and gives all that there are by now.
func (st *stemStream) named(words []string, stated int, list []*plannedSite) (of, all []*plannedSite) {
	st.adding.RLock()
	defer st.adding.RUnlock()
	for _, w := range words {
		site := st.sites[w]
		if site != nil && int(site.at) >= stated {
			site = nil // it came after the chunk, if before its turn
		}
		list = append(list, site)
	}
	return list, st.order
}

// sitesOfPlace, stated together, are given their law once and together. Nobody waits for that
// of others, which a plugin may take its time for.
type sitesOfPlace struct {
	list   []*plannedSite
	govern func() // panics each time if it does once
}

// place adds a site to those of its place.
func (st *stemStream) place(s *plannedSite, byPlace map[string]*sitesOfPlace) {
	at := byPlace[s.place]
	if at == nil {
		at = &sitesOfPlace{}
		at.govern = sync.OnceFunc(func() { st.govern(s.place, at.list) })
		byPlace[s.place] = at
	}
	at.list = append(at.list, s)
	s.near = at
}

// lawOf gives the law at a site, and is safe from any goroutine.
func (st *stemStream) lawOf(s *plannedSite) *rules.Governing {
	s.near.govern()
	return s.law
}

func (st *stemStream) govern(place string, sites []*plannedSite) {
	g, facts := st.lawOfPlace(place), factsOf(sites)
	laws := st.session.law.atAll(st.ctx, g, facts)
	st.placing.Lock()
	defer st.placing.Unlock()
	for i, law := range laws {
		if i > 0 && law == laws[i-1] {
			sites[i].law = sites[i-1].law
			continue
		}
		sites[i].law = st.same(place, law)
	}
}

// same gives the law of the place with the same answers to what is computed: one for all sites
// that share it, whether they were stated together or not, as planners and explanations are
// kept by it.
func (st *stemStream) same(place string, law *rules.Governing) *rules.Governing {
	var answers []byte
	for _, row := range law.Computed() {
		number := uint64(0) // none
		if row.Answer != nil {
			if number = st.answers[*row.Answer]; number == 0 {
				number = uint64(len(st.answers) + 1)
				st.answers[*row.Answer] = number
			}
		}
		answers = binary.AppendUvarint(answers, number)
	}
	key := lawKey{place, string(answers)}
	if known := st.laws[key]; known != nil {
		return known
	}
	st.laws[key] = law
	return law
}

// lawOfPlace is the law of a place before anything is computed for its sites.
func (st *stemStream) lawOfPlace(place string) *rules.Governing {
	st.placing.Lock()
	defer st.placing.Unlock()
	g := st.governed[place]
	if g == nil {
		g = st.governing(place)
		st.governed[place] = g
		st.bound = st.bound || len(g.Computed()) > 0
	}
	return g
}

func factsOf(sites []*plannedSite) []rules.SiteFacts {
	facts := make([]rules.SiteFacts, len(sites))
	for i, s := range sites {
		facts[i] = s.facts
	}
	return facts
}

// planner gives a site the planner that counts for it. The site has its law.
func (st *stemStream) planner(s *plannedSite) {
	s.planner = st.first(st.catalogue, s.law).For(&s.Site)
	s.planner.PutAside(st.aside)
}

// index is the number of an explanation in the chunk.
func (st *stemStream) index(e *explained, a *chunkAnswer) int32 {
	if e.chunk != st.chunks {
		e.chunk, e.at = st.chunks, a.explain(e.pieces)
	}
	return e.at
}

// reset empties the answer for the next chunk and keeps its columns' memory.
func (a *chunkAnswer) reset(c *treatmentv1.StemChunk) {
	a.named, a.proposals, a.maxima = emptied(a.named), a.proposals[:0], emptied(a.maxima)
	a.computed.reset()
	a.ComputedWater = emptied(a.ComputedWater)
	a.FirstRow = c.GetFirstRow()
	a.doses.reset()
	a.wording.reset()
	a.Outcome, a.Explanation, a.Dose = a.Outcome[:0], a.Explanation[:0], a.Dose[:0]
	a.Pieces, a.SecondDoses, a.Rejections = emptied(a.Pieces), emptied(a.SecondDoses), nil
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
