package api

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
	"example.org/rootward/server/water"
)

// pin freezes the law that holds now at the sites of a stream.
func (e *evaluator) pin(st *stemStream, trial []string) (*inventoryv1.PinnedLaw, error) {
	law, err := e.law(trial)
	if err != nil {
		return nil, err
	}
	digest, err := digestOf(e.catalogue)
	if err != nil {
		return nil, err
	}
	p := &inventoryv1.PinnedLaw{CatalogueDigest: digest, WaterLayers: waterRefs(e.water.now()), Version: e.version}
	for _, set := range law.Sets {
		if st.concerns(set) {
			p.Tables = append(p.Tables, &inventoryv1.PinnedTable{Ref: rulewire.EncodeRef(set.Ref), Table: rulewire.EncodeTable(&set.Table)})
		}
	}
	pinPlaces(st, &law, p)
	return p, nil
}

// pinAgain freezes the law that was pinned before, with what could not be computed then
// asked anew of the plugins that are there now.
func (e *evaluator) pinAgain(st *stemStream, before []byte) (*inventoryv1.PinnedLaw, error) {
	p := &inventoryv1.PinnedLaw{}
	if err := proto.Unmarshal(before, p); err != nil {
		return nil, unreadableBytes("what was pinned", err)
	}
	law, err := readLaw(p)
	if err != nil {
		return nil, err
	}
	answered := law.Compute
	law.Compute = func(ctx context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
		return askAnew(ctx, g, answered(ctx, g, sites), sites, e.current().Compute)
	}
	p.Places, p.Version = nil, e.version // all rows are decided once more
	pinPlaces(st, &law, p)
	return p, nil
}

// concerns reports whether a set is law at any of the places, or was or will be.
func (st *stemStream) concerns(set *rules.Set) bool {
	for place := range st.byPlace {
		if slices.Contains(rules.Levels(place), set.Table.Manifest.Scope) {
			return true
		}
	}
	return false
}

// pinPlaces writes what the tables do not tell of the places, in the order of the sites.
func pinPlaces(st *stemStream, law *Law, p *inventoryv1.PinnedLaw) {
	seen := map[string]bool{}
	for _, site := range st.order {
		if !seen[site.place] {
			seen[site.place] = true
			p.Places = append(p.Places, st.pinPlace(law, site.place))
		}
	}
}

func (st *stemStream) pinPlace(law *Law, place string) *inventoryv1.PinnedPlace {
	g := law.Govern(place, st.on)
	p := &inventoryv1.PinnedPlace{Place: place}
	for _, gap := range g.Gaps {
		p.Gaps = append(p.Gaps, &inventoryv1.PinnedGap{Place: gap.Place, Reason: gap.Reason})
	}
	rows := g.Computed()
	if len(rows) == 0 {
		return p
	}
	laws := law.atAll(st.ctx, g, factsOf(st.byPlace[place].list))
	for i, row := range rows {
		if answers, computed := answersTo(i, laws); computed {
			p.Answers = append(p.Answers, &inventoryv1.PinnedAnswers{
				TableDigest: row.Set.Ref.Digest, Answers: rulewire.EncodeAnswers(row.Row.ID, answers),
			})
		}
	}
	return p
}

// answersTo gives what was computed of a row at each site, and false if nobody was there
// to compute it.
func answersTo(row int, laws []*rules.Governing) ([]rules.Answer, bool) {
	answers, computed := make([]rules.Answer, len(laws)), false
	for i, law := range laws {
		answers[i] = rules.Answer{Kind: rules.FactMissing}
		if a := law.Computed()[row].Answer; a != nil {
			answers[i], computed = *a, true
		}
		answers[i].Words = shortened(answers[i].Words)
	}
	return answers, computed
}

// shortened makes of a text one that can be kept.
func shortened(words string) string {
	const most = 1_000 // of rulewire.DecodeAnswers
	if words == "" {
		return "nobody has said why"
	}
	return strings.ToValidUTF8(words[:min(len(words), most-len("…"))], "…")
}

// askAnew asks for the sites at which something could not be computed.
func askAnew(ctx context.Context, g *rules.Governing, laws []*rules.Governing, sites []rules.SiteFacts, compute func(context.Context, *rules.Governing, []rules.SiteFacts) []*rules.Governing) []*rules.Governing {
	var at []int
	var asked []rules.SiteFacts
	for i, law := range laws {
		if slices.ContainsFunc(law.Computed(), isOpen) {
			at, asked = append(at, i), append(asked, sites[i])
		}
	}
	if compute == nil || len(at) == 0 {
		return laws
	}
	laws = slices.Clone(laws)
	for n, fresh := range compute(ctx, g, asked) {
		laws[at[n]] = better(g, laws[at[n]], fresh)
	}
	return laws
}

// isOpen reports whether a row could not be computed.
func isOpen(r rules.ComputedRow) bool { return r.Answer == nil || r.Answer.Kind == rules.FactMissing }

// better is the law with the answers of old, and where those are wanting, of fresh.
func better(g, old, fresh *rules.Governing) *rules.Governing {
	answers := map[*rules.Row]rules.Answer{}
	now := fresh.Computed()
	for i, r := range old.Computed() {
		if isOpen(r) {
			r = now[i]
		}
		if r.Answer != nil {
			answers[r.Row] = *r.Answer
		}
	}
	return g.Resolve(answers)
}

// readPinned reads what was pinned by this version of the program. The request of a batch
// that another version began is for that to read: this one may ask for more.
func (e *evaluator) readPinned(pinned []byte) (*inventoryv1.PinnedLaw, error) {
	p := &inventoryv1.PinnedLaw{}
	if err := proto.Unmarshal(pinned, p); err != nil {
		return nil, unreadableBytes("what was pinned", err)
	}
	if p.GetVersion() != e.version {
		return nil, wanting{fmt.Errorf("the batch was started by version %s of the program, and this server is %s, which may decide otherwise: have a server of the former finish it, or %s", cmp.Or(p.GetVersion(), "(not noted)"), e.version, submitAnew)}
	}
	return p, nil
}

// enforce gives a stream the law that was pinned. Where this server cannot decide by it,
// another may, or this one later.
func (e *evaluator) enforce(st *stemStream, pinned []byte, p *inventoryv1.PinnedLaw) error {
	digest, err := digestOf(e.catalogue)
	if err != nil {
		return err
	}
	if !bytes.Equal(digest, p.GetCatalogueDigest()) {
		return wanting{fmt.Errorf("the batch was started with the catalogue %x, and this server has %x: start the server with the same --formulations, or %s", p.GetCatalogueDigest(), digest, submitAnew)}
	}
	if st.measuring.layers, err = e.sameWater(p.GetWaterLayers()); err != nil {
		return err
	}
	st.law, err = e.laws.of(pinned, p)
	return err
}

// pinnedLaws are the laws that were read last, so that batches of one law share desks.
type pinnedLaws struct {
	sync.Mutex
	read []pinnedLaw // the last used last
}

type pinnedLaw struct {
	digest [sha256.Size]byte // of the bytes that were pinned
	law    Law
}

// of gives the law that was pinned, read before or not.
func (l *pinnedLaws) of(pinned []byte, p *inventoryv1.PinnedLaw) (Law, error) {
	l.Lock()
	defer l.Unlock()
	digest := sha256.Sum256(pinned)
	for i, known := range l.read {
		if known.digest == digest {
			l.read = append(slices.Delete(l.read, i, i+1), known)
			return known.law, nil
		}
	}
	law, err := readLaw(p)
	if err != nil {
		return Law{}, err
	}
	law.Edition = digest
	l.read = append(l.read, pinnedLaw{digest, law})
	if len(l.read) > maxIdleDesks {
		l.read = slices.Delete(l.read, 0, 1)
	}
	return law, nil
}

// digestOf is a SHA-256 over all that a catalogue says.
func digestOf(c *treatment.Catalogue) ([]byte, error) {
	text, err := json.Marshal(c)
	sum := sha256.Sum256(text)
	return sum[:], err
}

// readLaw makes the law that was pinned.
func readLaw(p *inventoryv1.PinnedLaw) (Law, error) {
	law := Law{}
	for _, t := range p.GetTables() {
		set, err := readTable(t)
		if err != nil {
			return Law{}, err
		}
		law.Sets = append(law.Sets, set)
	}
	places := map[string]*inventoryv1.PinnedPlace{}
	for _, place := range p.GetPlaces() {
		places[place.GetPlace()] = place
	}
	law.Govern = func(place string, on civil.Date) *rules.Governing {
		g := rules.Govern(place, on, law.Sets)
		g.Gaps = nil
		for _, gap := range places[place].GetGaps() {
			g.Gaps = append(g.Gaps, rules.Gap{Place: gap.GetPlace(), Reason: gap.GetReason()})
		}
		return g
	}
	law.Compute = func(_ context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
		return resolvePinned(g, places[g.Place], len(sites))
	}
	return law, nil
}

func readTable(p *inventoryv1.PinnedTable) (*rules.Set, error) {
	table, err := rulewire.DecodeTable(p.GetTable())
	if err != nil {
		return nil, unreadableBytes("rule set "+p.GetRef().GetRuleSetId(), err)
	}
	set, err := rules.NewSet(table)
	if err != nil {
		return nil, unreadableBytes("rule set "+p.GetRef().GetRuleSetId(), err)
	}
	if !proto.Equal(rulewire.EncodeRef(set.Ref), p.GetRef()) {
		return nil, unreadableBytes("rule set "+p.GetRef().GetRuleSetId(), fmt.Errorf("it was pinned with digest %s and has %s", p.GetRef().GetDigest(), set.Ref.Digest))
	}
	return set, nil
}

// resolvePinned gives the law at each site of a place. A row whose answers are not
// there, or cannot be read, stays UNDETERMINED.
func resolvePinned(g *rules.Governing, p *inventoryv1.PinnedPlace, sites int) []*rules.Governing {
	var rows []rules.ComputedRow
	var answers [][]rules.Answer
	for _, r := range g.Computed() {
		i := slices.IndexFunc(p.GetAnswers(), func(a *inventoryv1.PinnedAnswers) bool {
			return a.GetTableDigest() == r.Set.Ref.Digest && a.GetAnswers().GetRuleId() == r.Row.ID
		})
		if i < 0 {
			continue
		}
		if list, err := rulewire.DecodeAnswers(p.GetAnswers()[i].GetAnswers(), r.Row.ID, sites); err == nil {
			rows, answers = append(rows, r), append(answers, list)
		}
	}
	return g.ResolveAll(rows, answers, sites)
}

// waterRefs names the water layers that the server has.
func waterRefs(layers *water.Layers) []*commonv1.WaterLayerRef {
	var refs []*commonv1.WaterLayerRef
	for _, l := range layers.Describe() {
		refs = append(refs, writeLayerRef(&l))
	}
	return refs
}

// sameWater gives the water layers if they are those that were pinned, and none where
// none were.
func (e *evaluator) sameWater(refs []*commonv1.WaterLayerRef) (*water.Layers, error) {
	if len(refs) == 0 {
		return nil, nil
	}
	layers := e.water.now()
	if slices.EqualFunc(refs, waterRefs(layers), func(a, b *commonv1.WaterLayerRef) bool { return proto.Equal(a, b) }) {
		return layers, nil
	}
	return nil, wanting{fmt.Errorf("the batch was started with the water layers %s, and this server has %s: load the former again (put their files, and no others, into the folder of --water, and send the server SIGHUP), or %s", layerNames(refs), layerNames(waterRefs(layers)), submitAnew)}
}

// submitAnew is what helps where what was pinned does not come back.
const submitAnew = "cancel the batch and submit its inventory anew, to be decided by what there is now"

func layerNames(refs []*commonv1.WaterLayerRef) string {
	var names []string
	for _, r := range refs {
		names = append(names, r.GetName()+" ("+r.GetDigest()+")")
	}
	return cmp.Or(strings.Join(names, ", "), "none")
}
