package api

import (
	"maps"
	"slices"
	"sync"

	"google.golang.org/protobuf/proto"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/treatment"
	"example.org/rootward/server/water"
)

// desk is what sessions of the same law, day and settings have in common: the law of
// places, narrowed to each treatment, and explanations in words. It is used by one
// session after the other, and depends on none of their rows, sites or sums.
type desk struct {
	deskKey
	settings *treatment.Settings
	places   map[string]*rules.Governing
	planners planners
	beside   []planners // of the proposers of a stream
	words    map[wordsKey]*explained
	older    map[wordsKey]*explained // those before; what is used again stays
	pieces   []piece                 // of all of them
	sent     []sent                  // of each of the pieces, as far as one was listed since
	placeOf  map[string]uint32       // in pieces, by their text
	lists    []uint32                // of the pieces of explanations, as far as they lie together
	cutting  []uint32                // of the one that is cut; reused
	messages int                     // kept
	recent   []recentWords           // that streams look into first; empty: none has used it
	findings sharedFindings
	last     map[summaryKey][]byte // of the encoding of summaries
	chunks   int64                 // answered so far, of all sessions
	bound    bool                  // something was computed for sites of the session that uses it
	again    again
}

// again is memory that each session at a desk uses anew. Nothing of it is in an answer.
type again struct {
	row   row
	stems []treatment.Stem
	at    map[*explained]int32
	refs  []rules.Ref
}

// maxAgain is how many stems' memory stays.
const maxAgain = 16

// used drops what a session had, and the memory of more stems than most have.
func (a *again) used() {
	if cap(a.stems) > maxAgain {
		a.stems, a.at = nil, nil
	}
	a.row = row{}
	clear(a.stems)
	clear(a.at)
}

// deskKey is equal for sessions that may use the same desk, one after the other.
type deskKey struct {
	edition  any // of the law
	layers   *water.Layers
	on       civil.Date
	settings string // as they were sent
}

func newDesk(settings *treatment.Settings) *desk {
	return &desk{
		settings: settings, places: map[string]*rules.Governing{}, planners: planners{},
		words: map[wordsKey]*explained{}, placeOf: map[string]uint32{}, findings: sharedFindings{}, last: map[summaryKey][]byte{},
	}
}

// planners are, by the law, those from which the ones of all sites under it are made. They
// plan for none, and are for one goroutine at a time.
type planners map[*rules.Governing]*treatment.Planner

func (l planners) first(c *treatment.Catalogue, g *rules.Governing, settings *treatment.Settings) *treatment.Planner {
	p := l[g]
	if p == nil {
		p = treatment.NewPlanner(c, g, &treatment.Site{}, settings)
		l[g] = p
	}
	return p
}

// first is that of the session itself.
func (d *desk) first(c *treatment.Catalogue, g *rules.Governing) *treatment.Planner {
	return d.planners.first(c, g, d.settings)
}

// rest drops what they keep of the last rows, and gives how many sets of options they keep.
func (l planners) rest() (kinds int) {
	for _, p := range l {
		p.Rest()
		kinds += p.Kinds()
	}
	return kinds
}

// rest has the planners drop what they keep of the last rows, or go where they keep too much.
func (d *desk) rest() {
	kinds := d.planners.rest()
	for _, l := range d.beside {
		kinds += l.rest()
	}
	if kinds > maxIdleKinds {
		d.planners, d.beside = planners{}, nil
	}
}

// proposing gives the planners of a proposer with the number, from 0, which has the
// session's.
func (d *desk) proposing(number int) planners {
	if number == 0 {
		return d.planners
	}
	for len(d.beside) < number {
		d.beside = append(d.beside, planners{})
	}
	return d.beside[number-1]
}

// unbind takes from the desk what was computed for sites of the session that leaves it.
func (d *desk) unbind() {
	shared := map[*rules.Governing]bool{}
	for _, g := range d.places {
		shared[g] = len(g.Computed()) == 0
	}
	ofSite := func(key wordsKey, _ *explained) bool { return !shared[key.law] }
	maps.DeleteFunc(d.words, ofSite)
	maps.DeleteFunc(d.older, ofSite)
	for _, list := range append([]planners{d.planners}, d.beside...) {
		maps.DeleteFunc(list, func(g *rules.Governing, _ *treatment.Planner) bool { return !shared[g] })
	}
	maps.DeleteFunc(d.findings, func(f finding, _ *rulesetv1.Finding) bool { return f.answer != nil })
	clear(d.recent)
	d.bound, d.messages = false, 0
	for _, list := range []map[wordsKey]*explained{d.words, d.older} {
		for _, e := range list {
			if e.message != nil || e.encoded != nil {
				d.messages++
			}
		}
	}
}

// The desks that a server keeps while no session uses them; all of them together keep no
// more explanations and pieces than one may.
const (
	maxIdleDesks    = 6
	maxIdlePlaces   = 64     // of each
	maxIdleFindings = 20_000 // of each
)

// maxIdleKinds is how many sets of options each keeps. Tests make it little.
var maxIdleKinds = 512

// desks are those that no session uses at the moment, the last used last.
type desks struct {
	sync.Mutex
	idle []*desk
}

// seat gives a session a desk, one that is warm if there is any. What it gives returns
// the desk once the session has ended well; until then nobody else has it.
func (l *desks) seat(b *session, settings *treatmentv1.Settings) (leave func()) {
	stated, err := proto.MarshalOptions{Deterministic: true}.Marshal(settings)
	if b.law.Edition == nil || err != nil { // of a law that nobody will ask for again
		b.desk = newDesk(b.settings)
		return func() {}
	}
	key := deskKey{b.law.Edition, b.measuring.layers, b.on, string(stated)}
	d := l.take(key)
	if d == nil {
		d = newDesk(b.settings)
		d.deskKey = key
	}
	b.desk = d
	return func() { l.put(d) }
}

func (l *desks) take(key deskKey) *desk {
	l.Lock()
	defer l.Unlock()
	for i := len(l.idle) - 1; i >= 0; i-- {
		if d := l.idle[i]; d.deskKey == key {
			l.idle = slices.Delete(l.idle, i, i+1)
			return d
		}
	}
	return nil
}

func (l *desks) put(d *desk) {
	if d.bound {
		d.unbind()
	}
	d.rest()
	if len(d.places) > maxIdlePlaces || len(d.findings) > maxIdleFindings {
		return
	}
	d.forget()
	if len(d.words)+len(d.older) > maxExplanations {
		d.older = nil
	}
	l.Lock()
	defer l.Unlock()
	l.idle = append(l.idle, d)
	words, pieces := 0, 0
	for i := len(l.idle) - 1; i >= 0; i-- {
		words += len(l.idle[i].words) + len(l.idle[i].older)
		pieces += len(l.idle[i].pieces)
		if words > maxExplanations || pieces > maxPieces || len(l.idle)-i > maxIdleDesks {
			l.idle = slices.Delete(l.idle, 0, i+1)
			return
		}
	}
}
