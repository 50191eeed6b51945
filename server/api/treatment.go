package api

import (
	"context"
	"slices"

	"google.golang.org/genproto/googleapis/type/date"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
	"example.org/rootward/server/water"
)

// Treatment serves TreatmentService. Between calls it keeps nothing but what the next
// one would work out alike.
type Treatment struct {
	treatmentv1.UnimplementedTreatmentServiceServer
	source
	catalogue *treatment.Catalogue
	water     CurrentWater
	aside     OpenAside
	desks     desks
	passages  passages
}

// NewTreatment makes the service. Without a host no other law than the current can be
// tried.
func NewTreatment(with Services) *Treatment {
	return &Treatment{catalogue: with.Catalogue, source: source{with.Current, with.Host}, water: with.Water, aside: with.Aside}
}

// layers are those that the server holds now, nil without any.
func (s *Treatment) layers() *water.Layers {
	return s.water.now()
}

// maxStems is how many stems one Prescribe answers for.
const maxStems = 10_000

// terms reads what holds for all rows of a request.
func (f *faults) terms(on *date.Date, settings *treatmentv1.Settings, c *treatment.Catalogue) (civil.Date, *treatment.Settings) {
	return f.day("date", on), f.settings(settings, c)
}

// Prescribe answers for all stems of one site.
func (s *Treatment) Prescribe(ctx context.Context, q *treatmentv1.PrescribeRequest) (*treatmentv1.PrescribeResponse, error) {
	if n := len(q.GetStems()); n > maxStems {
		return nil, tooMany("stems", n, maxStems, "use PrescribeStream, which holds all of them against one annual maximum")
	}
	var f faults
	on, settings := f.terms(q.GetDate(), q.GetSettings(), s.catalogue)
	measuring := f.positions(q.GetSettings())
	site := f.site("site", q.GetSite(), s.catalogue)
	f.unless(len(q.GetStems()) > 0, "stems", "is empty: send 1 to %d", maxStems)
	f.trial(q.GetTrialDigests())
	if err := f.err(); err != nil {
		return nil, err
	}
	law, err := s.law(q.GetTrialDigests())
	if err != nil {
		return nil, err
	}
	b := newSession(s.catalogue, law, on, settings)
	b.measuring = measuring
	b.measuring.layers = s.layers()
	leave := s.desks.seat(b, q.GetSettings())
	b.encoded = true
	answer := b.prescribe(ctx, site, q.GetStems())
	leave() // not where something panicked
	return answer, nil
}

// prescribe answers rows in their order. Those that cannot be read are rejected;
// the others go on without them.
func (b *session) prescribe(ctx context.Context, site *site, list []*treatmentv1.Stem) *treatmentv1.PrescribeResponse {
	g := b.lawAt(ctx, site)
	memory := &b.again
	defer memory.used()
	r, stems := &memory.row, slices.Grow(memory.stems[:0], len(list))
	unread := map[int][]treatment.FieldFault{}
	for i, p := range list {
		if r.read(p); len(r.list) > 0 {
			unread[i] = r.all(b.catalogue)
		} else {
			b.measuring.measure(r, g, b.settings, nil)
			stems = append(stems, r.stem)
		}
	}
	memory.stems = stems
	if memory.at == nil {
		memory.at = map[*explained]int32{}
	}
	plans, planner := b.first(b.catalogue, g).PlanAll(site.Site, stems)
	w := rowAnswers{session: b, at: memory.at, rows: make([]rowAnswer, len(list))}
	w.Prescriptions = make([]*treatmentv1.Prescription, len(list))
	for i, p := range list {
		plan, stem := &treatment.Plan{Outcome: treatment.Rejected, Faults: unread[i]}, (*treatment.Stem)(nil)
		if unread[i] == nil {
			plan, stem = &plans[0], &stems[0]
			plans, stems = plans[1:], stems[1:]
		}
		w.write(i, p.GetStemId(), planner, g, stem, plan)
	}
	w.Summary = b.summary(writeUses(site, planner))
	return &w.PrescribeResponse
}

// rowAnswers writes an answer by rows that share their explanations.
type rowAnswers struct {
	treatmentv1.PrescribeResponse
	session *session
	at      map[*explained]int32 // place of an explanation in the answer
	rows    []rowAnswer
}

// rowAnswer is the memory of the answer for one row.
type rowAnswer struct {
	treatmentv1.Prescription
	explanation int32
	dose        doseRoom
}

// write writes the answer for one row and counts it.
func (w *rowAnswers) write(row int, id string, p *treatment.Planner, g *rules.Governing, stem *treatment.Stem, plan *treatment.Plan) {
	a := &w.rows[row]
	w.Prescriptions[row] = &a.Prescription
	a.StemId, a.Outcome, a.Faults = id, writeOutcome(plan.Outcome), writeFaults(plan.Faults)
	w.session.count(byte(plan.Outcome))
	if plan.Outcome == treatment.Rejected {
		return
	}
	e := w.session.explain(p, g, stem, plan)
	if plan.Dose.Mix != 0 {
		w.session.mixOf(e).Add(&plan.Dose)
	}
	at, ok := w.at[e]
	if !ok {
		at = int32(len(w.Explanations))
		w.Explanations, w.at[e] = append(w.Explanations, w.session.written(e)), at
	}
	a.explanation = at
	a.Explanation, a.Dose, a.SecondDose = &a.explanation, a.dose.write(&plan.Dose), writeDose(&plan.Second)
	a.ComputedWater = writeComputed(&stem.Water)
}

func writeUses(s *site, p *treatment.Planner) []*treatmentv1.SiteUse {
	return writeEach(p.Uses(), func(to *treatmentv1.SiteUse, u *treatment.Use) { fillUse(to, s.ID, u, s.Area) })
}

// SelectMethod ranks every treatment of one stem.
func (s *Treatment) SelectMethod(ctx context.Context, q *treatmentv1.SelectMethodRequest) (*treatmentv1.SelectMethodResponse, error) {
	var f faults
	on, settings := f.terms(q.GetDate(), q.GetSettings(), s.catalogue)
	site := f.site("site", q.GetSite(), s.catalogue)
	row := f.stem(q.GetStem(), s.catalogue)
	measuring := f.positions(q.GetSettings())
	if err := f.err(); err != nil {
		return nil, err
	}
	law := s.current()
	g := law.at(ctx, law.Govern(site.place, on), site.facts)
	measuring.layers = s.layers()
	measuring.measure(row, g, settings, nil)
	choices := treatment.NewPlanner(s.catalogue, g, &site.Site, settings).Rank(&row.stem)
	r := &treatmentv1.SelectMethodResponse{Refused: writeAlternatives(choices.Refused), Why: choices.Why, Cautions: row.stem.Cautions()}
	for i := range choices.Ranked {
		r.Ranked = append(r.Ranked, writeChoice(&choices.Ranked[i]))
	}
	return r, nil
}

// stem reads a request's only stem: what is wrong with it is wrong with the
// request.
func (f *faults) stem(p *treatmentv1.Stem, c *treatment.Catalogue) *row {
	if p == nil {
		f.add("stem", "is missing: send one")
		return &row{}
	}
	r := readStem(p)
	for _, fault := range r.all(c) {
		f.add("stem."+fault.Field, "%s", fault.Problem)
	}
	return r
}

// CalculateDose computes what one stem gets by a named method and formulation.
func (s *Treatment) CalculateDose(_ context.Context, q *treatmentv1.CalculateDoseRequest) (*treatmentv1.CalculateDoseResponse, error) {
	var f faults
	stem := &f.stem(q.GetStem(), s.catalogue).stem
	settings := f.settings(q.GetSettings(), s.catalogue)
	method := word[rules.Method](&f, "method", q.GetMethod())
	f.unless(q.GetMethod() != commonv1.Method_METHOD_UNSPECIFIED, "method", "is not stated: use one of %v", rules.Words[rules.Method]())
	known := s.catalogue.Formulation(q.GetFormulationId()) != nil
	f.unless(known, "formulation_id", "%s is not in the catalogue: ListCatalogue lists what is", quoted(q.GetFormulationId()))
	if err := f.err(); err != nil {
		return nil, err
	}
	d, recipe, formulation, err := treatment.DoseOf(s.catalogue, settings, stem, method, q.GetFormulationId())
	if err != nil {
		f.add("method", "%s", err)
		return nil, f.err()
	}
	return &treatmentv1.CalculateDoseResponse{
		Dose: writeDose(&d), Working: treatment.Working(&d, settings, stem, recipe, formulation), Cautions: stem.Cautions(),
	}, nil
}

// ListCatalogue lists species and formulations.
func (s *Treatment) ListCatalogue(context.Context, *treatmentv1.ListCatalogueRequest) (*treatmentv1.ListCatalogueResponse, error) {
	r := &treatmentv1.ListCatalogueResponse{}
	for i := range s.catalogue.Species {
		r.Species = append(r.Species, writeSpecies(&s.catalogue.Species[i]))
	}
	for i := range s.catalogue.Formulations {
		r.Formulations = append(r.Formulations, writeFormulation(&s.catalogue.Formulations[i]))
	}
	return r, nil
}

func writeSpecies(s *treatment.Species) *treatmentv1.Species {
	return &treatmentv1.Species{
		ScientificName: s.Name, CommonName: s.Common, Sources: s.Sources,
		Suckering:      rulewire.Encode[commonv1.Suckering](s.Suckering),
		StumpSprouting: rulewire.Encode[commonv1.YesNo](s.StumpSprouting),
		SeedBearing:    rulewire.Encode[commonv1.YesNo](s.SeedBearing),
	}
}

func writeFormulation(f *treatment.Formulation) *treatmentv1.Formulation {
	p := &treatmentv1.Formulation{
		FormulationId: f.ID, Name: f.Name, Active: f.Active, Sources: f.Sources,
		GAePerL: f.Strength.GramsPerLitre(), LbAePerGal: f.Strength.PoundsPerGallon(),
		Kind:         rulewire.Encode[commonv1.FormulationKind](f.Kind),
		AquaticLabel: rulewire.Encode[commonv1.AquaticLabel](f.AquaticLabel),
		SoilActivity: rulewire.Encode[commonv1.SoilActivity](f.SoilActivity),
		Toxicity:     rulewire.Encode[commonv1.ToxicityCategory](f.Toxicity), RestrictedUse: rulewire.Encode[commonv1.RestrictedUse](f.RestrictedUse),
		SignalWord: f.SignalWord(), EntryIntervalH: int32(f.EntryHours), RainFreeH: int32(f.RainFreeHours),
		AnnualMaxLbAePerAc: f.AnnualMax.PoundsPerAcre(),
	}
	for _, m := range f.Methods.Values() {
		p.Methods = append(p.Methods, rulewire.Encode[commonv1.Method](m))
	}
	return p
}
