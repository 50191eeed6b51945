package api

import (
	"fmt"
	"iter"
	"slices"

	"google.golang.org/protobuf/proto"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
)

// tally is what the chunk at hand adds to the summary. Its rows are of these sites.
func (r *run) tally(sites []int32) *inventoryv1.Tally {
	t := &inventoryv1.Tally{Totals: &r.totals, Water: r.measuring.used, Uses: r.room.uses[:0]}
	for _, i := range sites {
		site := r.order[i]
		if site.planner == nil {
			continue // none of its rows could be read
		}
		t.Sites = append(t.Sites, i)
		r.room.counted = site.planner.Tallies(r.room.counted)
		for k := range r.room.counted {
			n := len(t.Uses)
			t.Uses = slices.Grow(t.Uses, 1)[:n+1]
			writeTally(&t.Uses[n], i, &r.room.counted[k])
		}
	}
	r.room.uses = t.Uses
	for _, m := range r.mixes.Sums() {
		t.Mixes = append(t.Mixes, writeMixTally(&m))
	}
	return t
}

// tallied is memory of tallies, for those of the next chunk.
type tallied struct {
	counted []treatment.Tally // of a site
	uses    []*inventoryv1.SiteTally
	use     treatment.Tally // read
}

// writeTally writes a tally over one that was written before, if there is one.
func writeTally(to **inventoryv1.SiteTally, site int32, t *treatment.Tally) {
	if *to == nil {
		*to = &inventoryv1.SiteTally{}
	}
	p := *to
	p.Site, p.Active, p.LimitUgPerAc, p.Source, p.UsedUg = site, t.Active, int64(t.Limit), t.Source, int64(t.Used)
	p.Classes, p.WantedUg = p.Classes[:0], p.WantedUg[:0]
	for _, w := range t.Wanted {
		p.Classes, p.WantedUg = append(p.Classes, int32(w.Class)), append(p.WantedUg, int64(w.AE))
	}
}

// readUse reads a tally over the one that was read before.
func readUse(t *treatment.Tally, p *inventoryv1.SiteTally) error {
	if len(p.GetClasses()) != len(p.GetWantedUg()) {
		return fmt.Errorf("%d classes have %d amounts", len(p.GetClasses()), len(p.GetWantedUg()))
	}
	*t = treatment.Tally{
		Active: p.GetActive(), Limit: quantity.ArealRate(p.GetLimitUgPerAc()), Source: p.GetSource(), Used: quantity.MicrogramsAE(p.GetUsedUg()),
		Wanted: t.Wanted[:0],
	}
	for i, class := range p.GetClasses() {
		t.Wanted = append(t.Wanted, treatment.Wanted{Class: int(class), AE: quantity.MicrogramsAE(p.GetWantedUg()[i])})
	}
	return nil
}

func writeMixTally(m *treatment.Mix) *inventoryv1.MixTally {
	return &inventoryv1.MixTally{
		Method: rulewire.Encode[commonv1.Method](m.Method), FormulationId: m.Formulation.ID,
		Strength: int64(m.Recipe.Mix), Carrier: string(m.Recipe.Carrier),
		AdjuvantPpm: int64(m.Recipe.Adjuvant), DyePpm: int64(m.Recipe.Dye),
		Rows: m.Rows, Stems: m.Stems, MixUl: int64(m.Mix), ProductUl: int64(m.Product), CarrierUl: int64(m.Carrier),
		AdjuvantUl: int64(m.Adjuvant), DyeUl: int64(m.Dye), AeUg: int64(m.AE),
	}
}

func (r *run) readMixTally(p *inventoryv1.MixTally) (*treatment.Mix, error) {
	method, ok := rulewire.Decode[rules.Method](p.GetMethod())
	formulation := r.catalogue.Formulation(p.GetFormulationId())
	if !ok || formulation == nil {
		return nil, fmt.Errorf("method %d, formulation %q are not known here", p.GetMethod(), p.GetFormulationId())
	}
	return &treatment.Mix{
		Method: method, Formulation: formulation,
		Recipe: &treatment.Recipe{
			Mix: quantity.Strength(p.GetStrength()), Carrier: treatment.Carrier(p.GetCarrier()),
			Adjuvant: quantity.PerMillion(p.GetAdjuvantPpm()), Dye: quantity.PerMillion(p.GetDyePpm()),
		},
		Rows: p.GetRows(), Stems: p.GetStems(),
		Mix: quantity.Microlitres(p.GetMixUl()), Product: quantity.Microlitres(p.GetProductUl()), Carrier: quantity.Microlitres(p.GetCarrierUl()),
		Adjuvant: quantity.Microlitres(p.GetAdjuvantUl()), Dye: quantity.Microlitres(p.GetDyeUl()), AE: quantity.MicrogramsAE(p.GetAeUg()),
	}, nil
}

// readTally is what a chunk adds, or why that is not known.
type readTally struct {
	*inventoryv1.Tally
	err error
}

// readTallies reads tallies while those before are added, up to the first that cannot be
// read. Stop waits until it reads no more.
func readTallies(tallies iter.Seq2[[]byte, error]) (list <-chan readTally, stop func()) {
	const ahead = 16
	read, stopped := make(chan readTally, ahead), make(chan struct{})
	give := func(t readTally) bool {
		select {
		case read <- t:
			return t.err == nil
		case <-stopped:
			return false
		}
	}
	go func() {
		defer close(read)
		err := guarded(func() error {
			for data, err := range tallies {
				t := readTally{&inventoryv1.Tally{}, err}
				if err == nil {
					if err := proto.Unmarshal(data, t.Tally); err != nil {
						t.err = unreadableBytes("a tally", err)
					}
				}
				if !give(t) {
					break
				}
			}
			return nil
		})
		if err != nil {
			give(readTally{nil, err})
		}
	}()
	return read, func() {
		close(stopped)
		for range read {
		}
	}
}

// addTally counts what a chunk adds.
func (r *run) addTally(t *inventoryv1.Tally) error {
	addTotals(&r.totals, t.GetTotals())
	r.measuring.used = r.measuring.used || t.GetWater()
	for _, i := range t.GetSites() {
		if _, err := r.planned(i); err != nil {
			return err
		}
	}
	for _, p := range t.GetUses() {
		site, err := r.planned(p.GetSite())
		if err != nil {
			return err
		}
		if err := readUse(&r.room.use, p); err != nil {
			return err
		}
		if err := site.planner.Count(&r.room.use); err != nil {
			return err
		}
	}
	for _, p := range t.GetMixes() {
		m, err := r.readMixTally(p)
		if err != nil {
			return err
		}
		r.mixes.Sum(m)
	}
	return nil
}

// planned gives a site with its planner, as if it had a row.
func (r *run) planned(i int32) (*plannedSite, error) {
	if i < 0 || int(i) >= len(r.order) {
		return nil, fmt.Errorf("site %d is named, there are %d", i, len(r.order))
	}
	site := r.order[i]
	if site.planner == nil {
		r.lawOf(site)
		r.planner(site)
	}
	return site, nil
}

func addTotals(to, more *treatmentv1.Totals) {
	to.Rows += more.GetRows()
	to.Prescribed += more.GetPrescribed()
	to.Deferred += more.GetDeferred()
	to.Undetermined += more.GetUndetermined()
	to.Rejected += more.GetRejected()
}
