package api_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/server/ledger"
)

// entries is a log that holds what a test puts into it, in memory.
type entries struct {
	api.Ledger // what a test does not use
	list       []*ledger.Entry
}

func (l *entries) Append(_ context.Context, d ledger.Draft) (*ledger.Entry, error) {
	e := &ledger.Entry{Number: int64(len(l.list)), Name: d.Name, Kind: d.Kind, Site: d.Site, Version: d.Version, Request: d.Request, Digest: d.Digest, Time: d.Time, Body: d.Body}
	l.list = append(l.list, e)
	return e, nil
}

func (l *entries) Repeated(_ context.Context, request string) (*ledger.Entry, error) {
	return l.last(func(e *ledger.Entry) bool { return e.Request == request })
}

func (l *entries) Get(_ context.Context, name string, version int64) (*ledger.Entry, error) {
	return l.last(func(e *ledger.Entry) bool { return e.Name == name && (version == 0 || e.Version == version) })
}

func (l *entries) last(is func(*ledger.Entry) bool) (*ledger.Entry, error) {
	for _, e := range slices.Backward(l.list) {
		if is(e) {
			return e, nil
		}
	}
	return nil, ledger.ErrUnknown
}

func (l *entries) Site(_ context.Context, site string) ([]*ledger.Entry, error) {
	return l.where(func(e *ledger.Entry) bool { return e.Site == site }), nil
}

func (l *entries) Kind(_ context.Context, kind string) ([]*ledger.Entry, error) {
	return l.where(func(e *ledger.Entry) bool { return e.Kind == kind }), nil
}

func (l *entries) where(is func(*ledger.Entry) bool) []*ledger.Entry {
	return slices.DeleteFunc(slices.Clone(l.list), func(e *ledger.Entry) bool { return !is(e) })
}

// fight is a site of three trees in the invented state, with a clock that a test sets.
type fight struct {
	*testing.T
	*api.Campaign
	log  *entries
	call int
}

const bank = "sites/north-bank"

func newFight(t *testing.T) *fight {
	t.Helper()
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	f := &fight{T: t, log: &entries{}}
	f.Campaign = api.NewCampaign(api.Services{Catalogue: known, Current: func() api.Law { return law }, Ledger: f.log})
	f.put("site", bank, &campaignv1.Site{
		Name: bank, Version: 1, Place: district, TimeZone: "America/New_York", AreaM2: ptr(50_000.0), ToBeFelled: commonv1.YesNo_YES_NO_YES,
		// Mid-November to April (T16: Rutgers Plant & Pest Advisory).
		FellingSeason: &ruletablev1.Window{From: &ruletablev1.DayOfYear{Month: 11, Day: 15}, To: &ruletablev1.DayOfYear{Month: 4, Day: 30}},
	})
	f.put("survey", bank+"/surveys/first", &campaignv1.Survey{Name: bank + "/surveys/first", Version: 1, Date: on(2026, 6, 20), Stems: []*treatmentv1.Stem{
		treeAt("a", 40.4), treeAt("b", 40.4002), treeAt("c", 40.4004),
	}})
	f.put("plan", "plans/summer", &campaignv1.Plan{Name: "plans/summer", Version: 1, From: on(2026, 7, 1), Sites: []string{bank}, Jobs: []*campaignv1.Job{{
		JobId: "j1", Site: bank, TreatFrom: on(2026, 7, 15), TreatUntil: on(2026, 10, 15), DaysToFelling: 30,
		Rows: []*campaignv1.PlannedRow{{StemId: "a"}, {StemId: "b"}, {StemId: "c"}},
	}}})
	return f
}

func on(year, month, day int32) *date.Date { return &date.Date{Year: year, Month: month, Day: day} }

// treeAt is a stem of 10 in, whose basal area is 0.545 sq ft (M02: Service Forestry
// Handbook).
func treeAt(id string, latitude float64) *treatmentv1.Stem {
	s := goodStem()
	s.StemId, s.Form, s.DiameterCm, s.HeightM = id, commonv1.GrowthForm_GROWTH_FORM_TREE, ptr(25.4), ptr(12.0)
	s.LatitudeDeg, s.LongitudeDeg, s.CoordinateUncertaintyM = ptr(latitude), ptr(-75.2), ptr(0.001)
	return s
}

// put keeps what other handlers write.
func (f *fight) put(kind, name string, m proto.Message) {
	f.Helper()
	text, err := protojson.Marshal(m)
	require.NoError(f, err)
	site := bank
	if kind == "plan" {
		site = ""
	}
	_, err = f.log.Append(f.Context(), ledger.Draft{Name: name, Kind: kind, Site: site, Version: 1, Request: name, Body: text})
	require.NoError(f, err)
}

// treat keeps a record of injected glyphosate.
func (f *fight) treat(id string, year, month, day int, rows ...string) {
	f.Helper()
	at := timestamppb.New(time.Date(year, time.Month(month), day, 16, 0, 0, 0, time.UTC))
	f.put("record", bank+"/records/"+id, &campaignv1.Record{
		Name: bank + "/records/" + id, Version: 1, Plan: "plans/summer", JobId: "j1", StartTime: at, EndTime: at, StemIds: rows,
		FormulationId: "glyphosate-ipa-3", Active: "glyphosate", AeG: 3, Method: commonv1.Method_METHOD_HACK_AND_SQUIRT,
	})
}

func (f *fight) visit(id string, v *campaignv1.Visit) (*campaignv1.Visit, error) {
	f.Helper()
	d := v.GetDate()
	f.At(time.Date(int(d.GetYear()), time.Month(d.GetMonth()), int(d.GetDay()), 22, 0, 0, 0, time.UTC))
	f.call++
	answer, err := f.CreateVisit(f.Context(), &campaignv1.CreateVisitRequest{Parent: bank, VisitId: id, Visit: v, RequestId: fmt.Sprintf("6ba7b810-9dad-41d1-80b4-%012d", f.call)})
	return answer.GetVisit(), err
}

func (f *fight) mustVisit(id string, v *campaignv1.Visit) *campaignv1.Visit {
	f.Helper()
	kept, err := f.visit(id, v)
	require.NoError(f, err)
	return kept
}

func (f *fight) progress(year, month, day int32) *campaignv1.Progress {
	f.Helper()
	answer, err := f.GetProgress(f.Context(), &campaignv1.GetProgressRequest{Name: bank + "/progress", Date: on(year, month, day)})
	require.NoError(f, err)
	return answer.GetProgress()
}

func inspection(year, month, day int32, found ...*campaignv1.Find) *campaignv1.Visit {
	return &campaignv1.Visit{Kind: campaignv1.VisitKind_VISIT_KIND_INSPECTION, Date: on(year, month, day), SearchMin: ptr(240.0), SearchedPercent: ptr(100.0), CountedAll: true, Found: found}
}

func suckerAt(id string, kind campaignv1.FindKind, latitude float64) *campaignv1.Find {
	s := treeAt(id, latitude)
	s.Form, s.DiameterCm, s.HeightM = commonv1.GrowthForm_GROWTH_FORM_ROOT_SUCKER, nil, ptr(0.8)
	return &campaignv1.Find{Kind: kind, Stem: s}
}

func dead(id string) *campaignv1.Find {
	return &campaignv1.Find{Kind: campaignv1.FindKind_FIND_KIND_DEAD, Stem: &treatmentv1.Stem{StemId: id}}
}

func TestACampaignFromSurveyToFinish(t *testing.T) {
	f := newFight(t)
	p := f.progress(2026, 7, 1)
	assert.Equal(t, campaignv1.SiteState_SITE_STATE_TO_TREAT, p.GetState())
	require.Len(t, p.GetDue(), 3)
	assert.Equal(t, "planned, and not on record", p.GetDue()[0].GetWhy())
	require.Len(t, p.GetDecline(), 1)
	assert.InDelta(t, 3, p.GetDecline()[0].GetStems(), 0)
	assert.InDelta(t, 3*0.545, p.GetDecline()[0].GetBasalAreaFt2(), 3*0.0005, "M02: 10 in")

	f.treat("r1", 2026, 8, 10)
	p = f.progress(2026, 8, 20)
	assert.Equal(t, campaignv1.SiteState_SITE_STATE_WAITING, p.GetState())
	require.Len(t, p.GetFelling(), 3)
	assert.Equal(t, on(2026, 11, 15).String(), p.GetFelling()[0].GetFrom().String(), "T16: the season begins")
	// T17: 50 ft round each of three stems 22 m apart; two lenses are counted once.
	area := p.GetInspectionArea()
	assert.InDelta(t, 15.24, area.GetRadiusM(), 1e-9)
	assert.InDelta(t, threeInARow(22.2068), area.GetAreaM2(), 1.5)
	assert.Len(t, area.GetPlaces(), 3)
	assert.InDelta(t, 0.001, area.GetUncertaintyM(), 1e-9, "of the rows themselves")

	felled := f.mustVisit("too-early", &campaignv1.Visit{Kind: campaignv1.VisitKind_VISIT_KIND_FELLING, Date: on(2026, 9, 1), FelledStemIds: []string{"a", "x"}})
	require.Len(t, felled.GetBreaches(), 2)
	assert.Contains(t, felled.GetBreaches()[0], `felled "a" on 2026-09-01, before 2026-11-15: 30 days after the treatment of 2026-08-10`)
	assert.Contains(t, felled.GetBreaches()[1], `felled "x", which no survey and no visit names`)
	assert.Contains(t, felled.GetLooked(), "not looked: a day of felling is no inspection")
	assert.Equal(t, campaignv1.SiteState_SITE_STATE_TO_FELL, f.progress(2026, 11, 15).GetState())
	assert.Empty(t, f.mustVisit("in-time", &campaignv1.Visit{Kind: campaignv1.VisitKind_VISIT_KIND_FELLING, Date: on(2026, 11, 15), FelledStemIds: []string{"b"}}).GetBreaches())

	p = f.progress(2027, 5, 1)
	assert.Equal(t, campaignv1.SiteState_SITE_STATE_TO_INSPECT, p.GetState())
	short := inspection(2027, 6, 10)
	short.SearchMin = ptr(1.0)
	assert.Contains(t, f.mustVisit("short", short).GetLooked(), "not enough looked: searched 1 minutes")
	kept := f.mustVisit("june", inspection(2027, 6, 20, suckerAt("s1", campaignv1.FindKind_FIND_KIND_ROOT_SUCKER, 40.4003), dead("a")))
	assert.Equal(t, "found", kept.GetLooked())
	p = f.progress(2027, 7, 1)
	assert.Equal(t, campaignv1.SiteState_SITE_STATE_TO_RETREAT, p.GetState())
	require.Len(t, p.GetDue(), 1)
	assert.Equal(t, "s1", p.GetDue()[0].GetStemId())
	assert.Contains(t, p.GetDue()[0].GetWhy(), "a sucker lives on a root that is not dead")
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_DEFERRED, p.GetDue()[0].GetOutcome(), p.GetDue()[0].GetTreatment())
	assert.Equal(t, on(2027, 7, 15).String(), p.GetDue()[0].GetTreatFrom().String(), "T15: mid-July; the invented state has it so")
	last := p.GetDecline()[len(p.GetDecline())-1]
	assert.InDelta(t, 1, last.GetStems(), 0)
	assert.Zero(t, last.GetBasalAreaFt2(), "what is lower than breast height has none")
	// T18: 91.7 percent by injected glyphosate, and two standard errors of three stems.
	assert.InDelta(t, 0, last.GetExpectedStemsLow(), 1e-9)
	assert.InDelta(t, 2, last.GetExpectedStemsHigh(), 1e-9)
	assert.Equal(t, "as expected", last.GetVerdict())

	f.treat("r2", 2027, 7, 20, "s1")
	for i, year := range []int32{2028, 2029, 2030} {
		p = f.progress(year, 6, 1)
		assert.NotEqual(t, campaignv1.SiteState_SITE_STATE_FINISHED, p.GetState(), "%d", year)
		assert.Equal(t, int32(i), p.GetCleanSeasons())
		assert.Equal(t, "clean", f.mustVisit(fmt.Sprint("y", year), inspection(year, 7, 1)).GetLooked())
	}
	assert.NotEqual(t, campaignv1.SiteState_SITE_STATE_FINISHED, f.progress(2030, 9, 30).GetState(), "the season is not over")
	p = f.progress(2030, 10, 1)
	assert.Equal(t, campaignv1.SiteState_SITE_STATE_FINISHED, p.GetState(), p.GetNotFinished())
	assert.Equal(t, int32(3), p.GetCleanSeasons())
	assert.Empty(t, p.GetNotFinished())
	assert.Len(t, p.GetToMend(), 2, "a breach stays")
	// Section G of the facts: again two to five years later.
	require.Len(t, p.GetSteps(), 1)
	assert.Equal(t, "look once more", p.GetSteps()[0].GetWhat())
	assert.Equal(t, on(2032, 9, 30).String(), p.GetSteps()[0].GetUntil().String())
}

// threeInARow is the area of three discs of 50 ft in a row, by plane geometry.
func threeInARow(apart float64) float64 {
	const r = 15.24
	lens := 2*r*r*math.Acos(apart/(2*r)) - apart/2*math.Sqrt(4*r*r-apart*apart)
	return 3*math.Pi*r*r - 2*lens
}

func TestASeasonThatNobodyLookedAtIsAGap(t *testing.T) {
	f := newFight(t)
	f.treat("r1", 2026, 8, 10)
	f.mustVisit("y2027", inspection(2027, 7, 1))
	f.mustVisit("y2029", inspection(2029, 7, 1))
	p := f.progress(2029, 12, 1)
	assert.Equal(t, int32(1), p.GetCleanSeasons())
	var states []string
	for _, s := range p.GetSeasons() {
		states = append(states, fmt.Sprintf("%d %s", s.GetYear(), s.GetState()))
	}
	assert.Equal(t, []string{"2026 treated", "2027 clean", "2028 not looked", "2029 clean"}, states)
	var gaps []string
	for _, d := range p.GetDecline() {
		if d.GetGap() != "" {
			gaps = append(gaps, d.GetGap())
			assert.Nil(t, d.Stems)
		}
	}
	assert.Equal(t, []string{"2028"}, gaps)
}

func TestAStemWithoutAPositionKeepsASiteFromBeingClean(t *testing.T) {
	f := newFight(t)
	s := treeAt("d", 0)
	s.LatitudeDeg, s.LongitudeDeg = nil, nil
	f.mustVisit("found", inspection(2026, 7, 1, &campaignv1.Find{Kind: campaignv1.FindKind_FIND_KIND_MISSED_STEM, Stem: s}))
	f.treat("r1", 2026, 8, 10)
	f.treat("r2", 2026, 8, 11, "d")
	assert.Contains(t, f.mustVisit("y2027", inspection(2027, 7, 1)).GetLooked(), "not enough looked: the inspection area is not known: no position of d")
	p := f.progress(2027, 12, 1)
	assert.Nil(t, p.GetInspectionArea().AreaM2)
	assert.Equal(t, []string{"d"}, p.GetInspectionArea().GetWithoutPosition())
	assert.Zero(t, p.GetCleanSeasons())
}

// One position says nothing of where the other stems of a row stand.
func TestARowOfSeveralStemsHasNoPlaceWithoutAnExtent(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*treatmentv1.Stem)
		known  bool
	}{
		"no extent":      {func(*treatmentv1.Stem) {}, false},
		"an area":        {func(s *treatmentv1.Stem) { s.AreaM2 = ptr(100.0) }, true},
		"an uncertainty": {func(s *treatmentv1.Stem) { s.CoordinateUncertaintyM = ptr(8.0) }, true},
		"an outline": {func(s *treatmentv1.Stem) {
			s.Outline = []*treatmentv1.Ring{{LatitudeDeg: []float64{40.4, 40.4001, 40.4}, LongitudeDeg: []float64{-75.2, -75.2, -75.1999}}}
		}, true},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFight(t)
			s := treeAt("d", 40.4006)
			s.Count, s.CoordinateUncertaintyM = ptr(int64(5)), nil
			c.change(s)
			f.mustVisit("found", inspection(2026, 7, 1, &campaignv1.Find{Kind: campaignv1.FindKind_FIND_KIND_MISSED_STEM, Stem: s}))
			f.treat("r1", 2026, 8, 11, "d")
			area := f.progress(2026, 8, 12).GetInspectionArea()
			assert.Equal(t, c.known, area.AreaM2 != nil)
			if name == "an uncertainty" {
				assert.InDelta(t, 8, area.GetUncertaintyM(), 1e-6, "what widens the ground is told")
				assert.Equal(t, "d", area.GetUncertainStemId())
			}
		})
	}
}

func TestAFindAtAFellingCounts(t *testing.T) {
	f := newFight(t)
	f.treat("r1", 2026, 8, 10)
	f.mustVisit("fell", &campaignv1.Visit{Kind: campaignv1.VisitKind_VISIT_KIND_FELLING, Date: on(2027, 11, 20), FelledStemIds: []string{"a"},
		Found: []*campaignv1.Find{suckerAt("s1", campaignv1.FindKind_FIND_KIND_ROOT_SUCKER, 40.4)}})
	f.mustVisit("y2027", inspection(2027, 7, 1))
	p := f.progress(2027, 12, 1)
	assert.Equal(t, campaignv1.SiteState_SITE_STATE_TO_RETREAT, p.GetState())
	assert.Equal(t, "found", p.GetSeasons()[1].GetState())
}

func TestVisitsThatCannotBeKept(t *testing.T) {
	f := newFight(t)
	bad := inspection(2026, 7, 1, &campaignv1.Find{Stem: &treatmentv1.Stem{StemId: "x"}}, &campaignv1.Find{Stem: &treatmentv1.Stem{StemId: "x", DiameterCm: ptr(-1.0)}})
	bad.SearchedPercent, bad.SearchMin, bad.FelledStemIds, bad.Kind = ptr(101.0), ptr(-1.0), []string{"a", "a", ""}, campaignv1.VisitKind_VISIT_KIND_INSPECTION
	_, err := f.visit("bad", bad)
	require.Equal(t, codes.InvalidArgument, status.Code(err))
	for _, want := range []string{"visit.search_min", "visit.searched_percent", "visit.found[1].stem.stem_id", "visit.found[1].stem.diameter_cm", "visit.felled_stem_ids", "visit.felled_stem_ids[1]", "visit.felled_stem_ids[2]"} {
		assert.Contains(t, faultyFields(t, err), want)
	}
	_, err = f.visit("no-species", inspection(2026, 7, 1, &campaignv1.Find{Stem: &treatmentv1.Stem{StemId: "x"}}))
	assert.Contains(t, faultyFields(t, err), "visit.found[0].stem.scientific_name")
	_, err = f.visit("empty", &campaignv1.Visit{})
	assert.Contains(t, faultyFields(t, err), "visit.kind")

	f.At(time.Date(2026, 7, 1, 3, 0, 0, 0, time.UTC))
	early := inspection(2026, 7, 3)
	_, err = f.CreateVisit(t.Context(), &campaignv1.CreateVisitRequest{Parent: bank, VisitId: "early", Visit: early, RequestId: "6ba7b810-9dad-41d1-80b4-00c04fd430c8"})
	assert.Contains(t, faultyFields(t, err), "visit.date")
	_, err = f.GetProgress(t.Context(), &campaignv1.GetProgressRequest{Name: bank})
	assert.ElementsMatch(t, []string{"date", "name"}, faultyFields(t, err))
	_, err = f.GetProgress(t.Context(), &campaignv1.GetProgressRequest{Name: "sites/nowhere/progress", Date: on(2026, 7, 1)})
	assert.Equal(t, codes.NotFound, status.Code(err))
}

func TestAVisitIsCorrected(t *testing.T) {
	f := newFight(t)
	f.treat("r1", 2026, 8, 10)
	kept := f.mustVisit("fell", &campaignv1.Visit{Kind: campaignv1.VisitKind_VISIT_KIND_FELLING, Date: on(2026, 9, 1), FelledStemIds: []string{"a"}})
	require.Len(t, kept.GetBreaches(), 1)
	change := proto.CloneOf(kept)
	change.Date = on(2026, 11, 20)
	f.At(time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC))
	_, err := f.UpdateVisit(t.Context(), &campaignv1.UpdateVisitRequest{Visit: change, RequestId: "6ba7b810-9dad-41d1-80b4-00c04fd430c8"})
	assert.Contains(t, faultyFields(t, err), "visit.correction")
	change.Correction = "the day was read wrong"
	answer, err := f.UpdateVisit(t.Context(), &campaignv1.UpdateVisitRequest{Visit: change, RequestId: "6ba7b810-9dad-41d1-80b4-00c04fd430c9"})
	require.NoError(t, err)
	assert.Equal(t, int64(2), answer.GetVisit().GetVersion())
	assert.Empty(t, answer.GetVisit().GetBreaches())
}

func faultyFields(t *testing.T, err error) []string {
	t.Helper()
	require.Error(t, err)
	_, bad := details(t, err)
	var list []string
	for _, v := range bad.GetFieldViolations() {
		list = append(list, v.GetField())
	}
	return list
}

// A visit counts by the area that was to be inspected on its day: what is treated later
// does not turn what was counted into a gap.
func TestALaterTreatmentLeavesACountAsItWas(t *testing.T) {
	f := newFight(t)
	f.treat("r1", 2026, 8, 10)
	found := inspection(2027, 7, 1, suckerAt("s1", campaignv1.FindKind_FIND_KIND_ROOT_SUCKER, 40.41))
	found.SearchMin = ptr(12.0) // 0.2 ha, at 60 minutes a hectare
	f.mustVisit("y2027", found)
	before := f.progress(2027, 7, 20)
	f.treat("r2", 2027, 7, 20, "s1")
	p := f.progress(2027, 12, 1)
	assert.Greater(t, p.GetInspectionArea().GetSearchMin(), before.GetInspectionArea().GetSearchMin())
	require.Len(t, p.GetDecline(), 2)
	assert.False(t, p.GetDecline()[1].GetPartial())
	assert.Len(t, p.GetTreated(), 2)
}
