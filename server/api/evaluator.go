package api

import (
	"context"
	"fmt"
	"iter"
	"slices"

	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/batch"
	"example.org/rootward/server/treatment"
)

// kept writes what is kept: equal messages give equal bytes.
var kept = proto.MarshalOptions{Deterministic: true}

// unreadable ends a batch whose bytes are not what this server writes.
type unreadable struct{ error }

// Refusal implements what batch.Evaluator asks of an error that ends a batch.
func (unreadable) Refusal() string { return string(BatchUnreadable) }

func unreadableBytes(what string, err error) error {
	return unreadable{fmt.Errorf("%s cannot be read: %w; create the batch anew on this version of the server", what, err)}
}

// wanting leaves a batch to a server that has what was pinned.
type wanting struct{ error }

// Elsewhere implements what batch.Evaluator asks of such an error.
func (wanting) Elsewhere() {}

// evaluator decides batches as PrescribeStream decides its chunks.
type evaluator struct {
	source
	catalogue *treatment.Catalogue
	version   string
	water     CurrentWater
	laws      pinnedLaws
	aside     OpenAside
	desks     desks
}

// NewEvaluator makes what decides the batches of an engine. Requests are StreamBegin,
// chunks StemChunk, answers PrescriptionChunk, summaries Summary.
//
// A stream holds each row against the sum so far of an annual maximum, which depends
// on the order of the rows; then its client sends all rows once more with the shares of
// the season. Here the first pass only counts what is wanted, and the second, due where
// a maximum would be passed, goes by the shares alone. So a chunk's answer does not
// depend on any other chunk, and is that of the stream's second pass.
func NewEvaluator(with Services) batch.Evaluator {
	return &evaluator{source: source{with.Current, with.Host}, catalogue: with.Catalogue, version: with.Version, water: with.Water, aside: with.Aside}
}

// Pin implements batch.Evaluator.
func (e *evaluator) Pin(ctx context.Context, request, before []byte) ([]byte, error) {
	st, begin, err := e.begin(ctx, request)
	if err != nil {
		return nil, err
	}
	var pin *inventoryv1.PinnedLaw
	if before == nil {
		pin, err = e.pin(st, begin.GetTrialDigests())
	} else {
		pin, err = e.pinAgain(st, before)
	}
	if err != nil {
		return nil, err
	}
	// What a plugin was not given the time to answer must not stay unanswered.
	if ctx.Err() != nil {
		return nil, context.Cause(ctx)
	}
	return kept.Marshal(pin)
}

// begin reads a request.
func (e *evaluator) begin(ctx context.Context, request []byte) (*stemStream, *treatmentv1.StreamBegin, error) {
	begin := &treatmentv1.StreamBegin{}
	if err := proto.Unmarshal(request, begin); err != nil {
		return nil, nil, unreadableBytes("the request", err)
	}
	var f faults
	st, err := f.begin(ctx, begin, e.catalogue)
	if err != nil {
		return nil, nil, unreadableBytes("the request", err)
	}
	for _, site := range st.order {
		site.InPart = true
	}
	return st, begin, nil
}

// Open implements batch.Evaluator.
func (e *evaluator) Open(ctx context.Context, request, pinned, shares []byte) (batch.Run, error) {
	return e.open(ctx, request, pinned, shares)
}

// run is a stream whose planners are new for each chunk.
type run struct {
	*stemStream
	by     *proposer
	second bool      // pass
	rows   chunkRows // reused, as the next
	answer chunkAnswer
	result []byte // of the last chunk
	told   []byte // its tally
	room   tallied
}

func (e *evaluator) open(ctx context.Context, request, pinned, shares []byte) (*run, error) {
	p, err := e.readPinned(pinned)
	if err != nil {
		return nil, err
	}
	st, begin, err := e.begin(ctx, request)
	if err != nil {
		return nil, err
	}
	if err := e.enforce(st, pinned, p); err != nil {
		return nil, err
	}
	st.leave = e.desks.seat(st.session, begin.GetSettings())
	r := &run{stemStream: st, by: st.newProposer(0)}
	r.rows.stated = len(st.order)
	st.aside = treatment.NewAside(nil, treatment.Room{}) // for its memory alone: nothing is put there
	return r, r.share(shares)
}

// share sets the shares of a second pass.
func (r *run) share(data []byte) error {
	p := &inventoryv1.PinnedShares{}
	if err := proto.Unmarshal(data, p); err != nil {
		return unreadableBytes("the shares", err)
	}
	for _, s := range p.GetShares() {
		share, ok := decodeShare(s.GetAdmitted())
		if i := s.GetSite(); !ok || i < 0 || int(i) >= len(r.order) {
			return unreadableBytes("the shares", fmt.Errorf("site %d of %d has a share of %d bytes", s.GetSite(), len(r.order), len(s.GetAdmitted())))
		}
		site := r.order[s.GetSite()]
		if site.Shares == nil {
			site.Shares = map[string]treatment.Share{}
		}
		site.Shares[s.GetActive()] = share
		r.second = true
	}
	return nil
}

// Answer implements batch.Run.
func (r *run) Answer(chunk []byte, read any) (batch.Answer, error) {
	c, ok := read.(*treatmentv1.StemChunk) // which UploadChunks has checked
	if !ok {
		c = &r.rows.received.again
		if err := columnar.DecodeIn(chunk, c); err != nil {
			return batch.Answer{}, unreadableBytes("the chunk", err)
		}
		if err := checkChunk(c); err != nil {
			return batch.Answer{}, unreadableBytes("the chunk", err)
		}
	}
	sites := r.anew(c)
	r.rows.look(c)
	r.by.propose(&r.rows, &r.answer)
	r.by.settle(&r.rows, &r.answer)
	r.measuring.used = r.by.measuring.used
	var err error
	if r.result, err = columnar.AppendAnswers(r.result[:0], r.by.list(&r.rows, &r.answer)); err != nil {
		return batch.Answer{}, err
	}
	r.answer.forget()
	if r.told, err = kept.MarshalAppend(r.told[:0], r.tally(sites)); err != nil {
		return batch.Answer{}, err
	}
	t := &r.totals
	return batch.Answer{Result: r.result, Tally: r.told, Counts: batch.Counts{
		Prescribed: t.GetPrescribed(), Deferred: t.GetDeferred(), Undetermined: t.GetUndetermined(), Rejected: t.GetRejected(),
	}}, nil
}

// Close implements batch.Run.
func (r *run) Close() { r.leave() }

// anew drops what was counted, and gives the sites that rows of the chunk can name, in
// their order.
func (r *run) anew(c *treatmentv1.StemChunk) []int32 {
	proto.Reset(&r.totals)
	r.aside.Anew()
	r.mixes = &treatment.Mixes{}
	r.by.measuring.used = false
	var sites []int32
	for _, word := range c.GetWords() {
		if site := r.sites[word]; site != nil {
			site.planner = nil
			sites = append(sites, site.at)
		}
	}
	slices.Sort(sites)
	return slices.Compact(sites)
}

// Sum implements batch.Evaluator.
func (e *evaluator) Sum(ctx context.Context, request, pinned, shares []byte, tallies iter.Seq2[[]byte, error]) (batch.Sum, error) {
	read, stop := readTallies(tallies)
	defer stop()
	r, err := e.open(ctx, request, pinned, shares)
	if err != nil {
		return batch.Sum{}, err
	}
	defer r.Close()
	r.aside = newAside(e.aside)
	defer r.aside.Close()
	for t := range read {
		if t.err != nil {
			return batch.Sum{}, raised(t.err)
		}
		if err := r.addTally(t.Tally); err != nil {
			return batch.Sum{}, unreadableBytes("a tally", err)
		}
		if err := r.aside.Tidy(); err != nil {
			return batch.Sum{}, asideOfBatch(err)
		}
	}
	next, err := r.split()
	if err != nil {
		return batch.Sum{}, asideOfBatch(err)
	}
	if len(next.GetShares()) > 0 {
		data, err := kept.Marshal(next)
		return batch.Sum{Shares: data}, err
	}
	uses, err := r.uses()
	if err != nil {
		return batch.Sum{}, asideOfBatch(err)
	}
	data, err := kept.Marshal(r.summary(uses))
	return batch.Sum{Summary: data}, err
}

// split gives the shares of the sites that pass a maximum. In a pass with shares none
// can: that one did is a fault, and nothing of it may be used.
func (r *run) split() (*inventoryv1.PinnedShares, error) {
	next := &inventoryv1.PinnedShares{}
	for i, site := range r.order {
		if site.planner == nil {
			continue
		}
		uses, err := r.usesOf(site)
		if err != nil {
			return nil, err
		}
		for _, u := range uses {
			if u.Used <= u.Left {
				continue
			}
			if r.second {
				return nil, unreadable{fmt.Errorf("site %q would get %g g of %s, and %g g are left of its annual maximum: the server has a fault; do not treat on the strength of this batch", site.ID, u.Used.Grams(), u.Active, u.Left.Grams())}
			}
			next.Shares = append(next.Shares, &inventoryv1.PinnedShare{Site: int32(i), Active: u.Active, Admitted: encodeShare(u.Share)})
		}
	}
	return next, nil
}
