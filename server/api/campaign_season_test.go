package api_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/recordlog/derivation"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/api"
)

// shelved is a log with rule tables.
type shelved struct {
	*entries
	tables map[string][]byte
}

func (l *shelved) PutTable(_ context.Context, digest string, table []byte) error {
	l.tables[digest] = table
	return nil
}

// seasoned is a campaign through the service alone.
type seasoned struct {
	*testing.T
	*api.Campaign
	log  *shelved
	call int
}

func newSeason(t *testing.T, sites ...*campaignv1.Site) *seasoned {
	t.Helper()
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	s := &seasoned{T: t, log: &shelved{entries: &entries{}, tables: map[string][]byte{}}}
	s.Campaign = api.NewCampaign(api.Services{Catalogue: known, Current: func() api.Law { return law }, Ledger: s.log})
	s.At(time.Date(2026, 7, 1, 16, 0, 0, 0, time.UTC))
	for i, site := range sites {
		_, err := s.CreateSite(t.Context(), &campaignv1.CreateSiteRequest{SiteId: fmt.Sprintf("s%d", i+1), Site: site, RequestId: s.id()})
		require.NoError(t, err)
	}
	return s
}

func (s *seasoned) id() string {
	s.call++
	return fmt.Sprintf("6ba7b810-9dad-41d1-80b5-%012d", s.call)
}

func ground(acres float64) *campaignv1.Site {
	return &campaignv1.Site{Place: district, TimeZone: "America/New_York", AreaM2: ptr(acres * 4046.8564224)}
}

func (s *seasoned) survey(site, id string, v *campaignv1.Survey) (*campaignv1.Survey, error) {
	a, err := s.CreateSurvey(s.Context(), &campaignv1.CreateSurveyRequest{Parent: site, SurveyId: id, Survey: v, RequestId: s.id()})
	return a.GetSurvey(), err
}

func (s *seasoned) plan(id string, sites ...string) *campaignv1.Plan {
	s.Helper()
	a, err := s.CreatePlan(s.Context(), &campaignv1.CreatePlanRequest{PlanId: id, RequestId: s.id(), Plan: &campaignv1.Plan{
		From: on(2026, 7, 1), Sites: sites, Crews: []*campaignv1.Crew{{CrewId: "one", People: 2, HoursPerDay: 6}},
		Settings: &treatmentv1.Settings{Standing: commonv1.Standing_STANDING_CERTIFIED},
	}})
	require.NoError(s, err)
	return a.GetPlan()
}

func trees(n int) []*treatmentv1.Stem {
	var list []*treatmentv1.Stem
	for i := range n {
		list = append(list, treeAt(fmt.Sprintf("t%d", i+1), 40.4+float64(i)/10_000))
	}
	return list
}

func (s *seasoned) surveyed(site string, stems ...*treatmentv1.Stem) {
	s.Helper()
	_, err := s.survey(site, "all", &campaignv1.Survey{Date: on(2026, 6, 20), Stems: stems})
	require.NoError(s, err)
}

func TestAPlanPrescribesAsPrescribeDoesOnThatDay(t *testing.T) {
	s := newSeason(t, ground(10))
	s.surveyed("sites/s1", trees(3)...)
	p := s.plan("a", "sites/s1")
	require.Len(t, p.GetJobs(), 1, "%v", p.GetMisfits())
	job := p.GetJobs()[0]
	site := &treatmentv1.Site{SiteId: "x", Place: district, AreaM2: ptr(10 * 4046.8564224)}
	want, err := serveFull(t).Prescribe(t.Context(), &treatmentv1.PrescribeRequest{
		Date: job.GetTreatFrom(), Site: site, Stems: trees(3), Settings: &treatmentv1.Settings{Standing: commonv1.Standing_STANDING_CERTIFIED},
	})
	require.NoError(t, err)
	require.Len(t, job.GetRows(), 3)
	for i, row := range job.GetRows() {
		dose := want.GetPrescriptions()[i].GetDose()
		require.NotNil(t, dose)
		assert.Equal(t, []any{dose.GetStems(), dose.GetCuts(), dose.GetMixMl(), dose.GetProductMl(), dose.GetAeG()}, []any{row.GetStems(), row.GetCuts(), row.GetMixMl(), row.GetProductMl(), row.GetAeG()})
	}
	requireSame(t, want.GetExplanations()[0].GetChoice(), job.GetChoice())
	assert.NotEmpty(t, p.GetShifts())
	for _, ref := range p.GetRuleSets() {
		table := &ruletablev1.Table{}
		require.NoError(t, proto.Unmarshal(s.log.tables[ref.GetDigest()], table), "kept under its digest")
		decoded, err := rulewire.DecodeTable(table)
		require.NoError(t, err)
		set, err := rules.NewSet(decoded)
		require.NoError(t, err)
		assert.Equal(t, ref.GetDigest(), set.Ref.Digest)
	}

	again := s.plan("b", "sites/s1")
	assert.Empty(t, again.GetJobs(), "open work is not planned again")
	assert.Contains(t, again.GetRemarks()[0], "nothing to plan")
}

// Two plans of one year do not use one annual maximum twice, and what does not fit is
// named.
func TestTwoPlansShareOneMaximum(t *testing.T) {
	s := newSeason(t, ground(0.05))
	s.surveyed("sites/s1", trees(4)...)
	first := s.plan("a", "sites/s1")
	extra := trees(8)[4:]
	for _, e := range extra {
		e.Count = ptr(int64(40))
	}
	s.At(time.Date(2026, 7, 3, 16, 0, 0, 0, time.UTC))
	v, err := s.CreateVisit(t.Context(), &campaignv1.CreateVisitRequest{Parent: "sites/s1", VisitId: "more", RequestId: s.id(), Visit: &campaignv1.Visit{
		Kind: campaignv1.VisitKind_VISIT_KIND_INSPECTION, Date: on(2026, 7, 2), SearchMin: ptr(60.0),
		Found: []*campaignv1.Find{{Kind: campaignv1.FindKind_FIND_KIND_MISSED_STEM, Stem: extra[0]}, {Kind: campaignv1.FindKind_FIND_KIND_MISSED_STEM, Stem: extra[1]}, {Kind: campaignv1.FindKind_FIND_KIND_MISSED_STEM, Stem: extra[2]}, {Kind: campaignv1.FindKind_FIND_KIND_MISSED_STEM, Stem: extra[3]}},
	}})
	require.NoError(t, err)
	require.NotNil(t, v)
	second := s.plan("b", "sites/s1")
	known, err := shipped()
	require.NoError(t, err)
	sums := map[string]float64{}
	for _, p := range []*campaignv1.Plan{first, second} {
		for _, j := range p.GetJobs() {
			if j.GetTreatFrom().GetYear() == 2026 {
				sums[j.GetChoice().GetActive()] += j.GetAeG()
			}
		}
	}
	require.NotEmpty(t, sums)
	for active, sum := range sums {
		rate, _, ok := known.AnnualMax(active)
		require.True(t, ok)
		assert.LessOrEqual(t, sum, rate.PoundsPerAcre()*0.05*453.59237+1e-6, active)
	}
	assert.NotEmpty(t, second.GetMisfits(), "160 trees on a twentieth of an acre")
}

func TestAPlanOfASiteThatNobodySurveyed(t *testing.T) {
	s := newSeason(t, ground(1))
	p := s.plan("a", "sites/s1")
	assert.Empty(t, p.GetJobs())
	assert.Contains(t, p.GetRemarks()[0], "to survey")
}

func (s *seasoned) record(id string, r *campaignv1.Record) (*campaignv1.Record, error) {
	a, err := s.CreateRecord(s.Context(), &campaignv1.CreateRecordRequest{Parent: "sites/s1", RecordId: id, Record: r, RequestId: s.id()})
	return a.GetRecord(), err
}

// useOf is a record without a flaw of a job.
func useOf(j *campaignv1.Job, year, month, day int) *campaignv1.Record {
	start := time.Date(year, time.Month(month), day, 14, 0, 0, 0, time.UTC)
	return &campaignv1.Record{
		Plan: "plans/a", JobId: j.GetJobId(), StartTime: timestamppb.New(start), EndTime: timestamppb.New(start.Add(time.Hour)),
		ProductMl: ptr(j.GetProductMl()), MixL: ptr(j.GetMixL()), ProductName: "generic", RegistrationNumber: "1-1",
		Applicator: &campaignv1.Person{Name: "A", Number: "7", Standing: commonv1.Standing_STANDING_CERTIFIED},
	}
}

func TestRecordsAreHeldAgainstPrescriptionAndLaw(t *testing.T) {
	s := newSeason(t, ground(10))
	s.surveyed("sites/s1", trees(3)...)
	job := s.plan("a", "sites/s1").GetJobs()[0]
	s.At(time.Date(2026, 8, 11, 16, 0, 0, 0, time.UTC))

	good := useOf(job, 2026, 8, 10)
	good.StemIds = []string{"t1", "t2"}
	good.ProductMl = ptr(job.GetRows()[0].GetProductMl() + job.GetRows()[1].GetProductMl())
	good.MixL = ptr((job.GetRows()[0].GetMixMl() + job.GetRows()[1].GetMixMl()) / 1000)
	kept, err := s.record("good", good)
	require.NoError(t, err)
	assert.Empty(t, kept.GetBreaches())
	known, err := shipped()
	require.NoError(t, err)
	strength := known.Formulation(job.GetChoice().GetFormulationId()).Strength.GramsPerLitre()
	assert.InDelta(t, good.GetProductMl()/1000*strength, kept.GetAeG(), 1e-5)
	assert.GreaterOrEqual(t, kept.GetAeG(), good.GetProductMl()/1000*strength-1e-9, "rounded up")
	assert.Equal(t, time.Duration(job.GetChoice().GetEntryIntervalH())*time.Hour, kept.GetEntryEndTime().AsTime().Sub(kept.GetEndTime().AsTime()))

	// What the tables said can be found out again from them alone.
	var sets []*rules.Set
	for _, ref := range kept.GetDerivation().GetRuleSets() {
		table := &ruletablev1.Table{}
		require.NoError(t, proto.Unmarshal(s.log.tables[ref.GetDigest()], table))
		decoded, err := rulewire.DecodeTable(table)
		require.NoError(t, err)
		set, err := rules.NewSet(decoded)
		require.NoError(t, err)
		sets = append(sets, set)
	}
	day, err := rulewire.DecodeDate(kept.GetDerivation().GetDate())
	require.NoError(t, err)
	used, err := rulewire.DecodeTreatment(kept.GetDerivation().GetTreatment())
	require.NoError(t, err)
	require.NotEmpty(t, kept.GetDerivation().GetDecisions())
	for _, d := range kept.GetDerivation().GetDecisions() {
		around, err := rulewire.DecodeSurroundings(d.GetSurroundings())
		require.NoError(t, err)
		decision, names := derivation.Judge(rules.Govern(kept.GetDerivation().GetPlace(), day, sets), used, &around)
		assert.Equal(t, d.GetDecision(), rulewire.EncodeDecision(decision))
		assert.Equal(t, d.GetRules(), names)
	}

	for name, c := range map[string]struct {
		change func(*campaignv1.Record)
		want   string
	}{
		"again":    {func(r *campaignv1.Record) { r.StemIds = []string{"t1"} }, "treated t1 again"},
		"too-much": {func(r *campaignv1.Record) { r.StemIds, r.ProductMl = []string{"t3"}, ptr(500.0) }, "were prescribed for these rows"},
		"in-a-storm": {func(r *campaignv1.Record) {
			r.StemIds, r.StartWeather = []string{"t3"}, &campaignv1.Weather{Time: r.StartTime, WindMS: ptr(1.0), TemperatureC: ptr(-4.0), HumidityPercent: ptr(40.0), Inversion: commonv1.YesNo_YES_NO_NO}
		}, "temperature, at least"},
		"in-spring": {func(r *campaignv1.Record) { become(r, useOf(job, 2026, 5, 1)); r.StemIds = []string{"t3"} }, "outside the opening of the job"},
	} {
		r := useOf(job, 2026, 8, 10)
		c.change(r)
		kept, err := s.record(name, r)
		require.NoError(t, err)
		assert.Contains(t, fmt.Sprint(kept.GetBreaches()), c.want, name)
	}

	fixed, err := s.UpdateRecord(t.Context(), &campaignv1.UpdateRecordRequest{RequestId: s.id(), Record: func() *campaignv1.Record {
		r := proto.CloneOf(good)
		r.Name, r.Correction = "sites/s1/records/good", "the lot was missing"
		r.LotNumber = "L1"
		return r
	}()})
	require.NoError(t, err)
	assert.EqualValues(t, 2, fixed.GetRecord().GetVersion())
	assert.NotContains(t, fmt.Sprint(fixed.GetRecord().GetBreaches()), "t2 again", "it does not stand against itself")

	totals, err := s.GetProgress(t.Context(), &campaignv1.GetProgressRequest{Name: "sites/s1/progress", Date: on(2026, 8, 11)})
	require.NoError(t, err)
	require.NotEmpty(t, totals.GetProgress().GetTotals())
	for _, total := range totals.GetProgress().GetTotals() {
		assert.InDelta(t, total.GetLimitAeG()-total.GetAppliedAeG(), total.GetLeftAeG(), 1e-5)
		assert.NotEmpty(t, total.GetSource())
	}
	assert.NotEmpty(t, totals.GetProgress().GetToMend())
}

func TestNothingIsKeptThatNoPlanPrescribed(t *testing.T) {
	s := newSeason(t, ground(10))
	s.surveyed("sites/s1", trees(2)...)
	job := s.plan("a", "sites/s1").GetJobs()[0]
	s.At(time.Date(2026, 8, 11, 16, 0, 0, 0, time.UTC))
	for name, c := range map[string]struct {
		change func(*campaignv1.Record)
		field  string
	}{
		"another plan":    {func(r *campaignv1.Record) { r.Plan = "plans/none" }, "record.job_id"},
		"another job":     {func(r *campaignv1.Record) { r.JobId = "s1-9" }, "record.job_id"},
		"another row":     {func(r *campaignv1.Record) { r.StemIds = []string{"t9"} }, "record.stem_ids[0]"},
		"tomorrow":        {func(r *campaignv1.Record) { become(r, useOf(job, 2026, 8, 12)) }, "record.end_time"},
		"backwards":       {func(r *campaignv1.Record) { r.EndTime = timestamppb.New(r.StartTime.AsTime().Add(-time.Hour)) }, "record.end_time"},
		"without product": {func(r *campaignv1.Record) { r.ProductMl = nil }, "record.product_ml"},
		"without mix":     {func(r *campaignv1.Record) { r.MixL = nil }, "record.mix_l"},
	} {
		r := useOf(job, 2026, 8, 10)
		c.change(r)
		_, err := s.record("x", r)
		require.Equal(t, codes.InvalidArgument, status.Code(err), name)
		assert.Contains(t, violationsOf(t, err), c.field, name)
	}
}

// Ten plots that were published (forestmangr, vignette "Sampling": S-01 to S-04), as
// stems of one row each.
func TestASampleThroughTheService(t *testing.T) {
	site := ground(1)
	site.AreaM2 = ptr(468_000.0)
	s := newSeason(t, site, &campaignv1.Site{Place: district, TimeZone: "America/New_York"})
	sample := &campaignv1.PlotSample{RadiusM: 30.9019361618552} // 0.3 ha
	for i, n := range []int64{41, 33, 24, 31, 10, 32, 62, 16, 66, 25} {
		tree := treeAt(fmt.Sprintf("r%d", i), 40.4)
		tree.Count = ptr(n)
		sample.Plots = append(sample.Plots, &campaignv1.Plot{PlotId: fmt.Sprintf("p%d", i), Stems: []*treatmentv1.Stem{tree}})
	}
	v, err := s.survey("sites/s1", "plots", &campaignv1.Survey{Date: on(2026, 6, 20), Sample: sample})
	require.NoError(t, err)
	byWhat := map[string]*campaignv1.Estimate{}
	for _, e := range v.GetEstimates() {
		byWhat[e.GetWhat()] = e
	}
	stems := byWhat["stems"]
	require.NotNil(t, stems)
	assert.InDelta(t, 5304, stems.GetTotal(), 0.1)
	assert.InDelta(t, 5304-1955.2326, stems.GetLow(), 0.5)
	assert.InDelta(t, 5304+1955.2326, stems.GetHigh(), 0.5)
	assert.InDelta(t, 36.8634, stems.GetErrorPercent(), 1e-3)
	product := byWhat["product "+"glyphosate-ipa-3"]
	if product == nil {
		for what, e := range byWhat {
			if e.GetUnit() == "L" {
				product = e
				t.Log(what)
			}
		}
	}
	require.NotNil(t, product, "what there is to buy")
	assert.Less(t, product.GetLow(), product.GetTotal(), "a range, not a point")
	assert.Less(t, product.GetTotal(), product.GetHigh())

	none, err := s.survey("sites/s2", "plots", &campaignv1.Survey{Date: on(2026, 6, 20), Sample: &campaignv1.PlotSample{RadiusM: 5, Plots: []*campaignv1.Plot{{PlotId: "a"}, {PlotId: "b"}}}})
	require.NoError(t, err)
	assert.Nil(t, none.GetEstimates()[0].Total, "of ground that is not known")
	assert.Contains(t, fmt.Sprint(none.GetCautions()), "does not say that nothing is there")

	_, err = s.survey("sites/s1", "bad", &campaignv1.Survey{Date: on(2026, 6, 20), Stems: trees(1), Sample: &campaignv1.PlotSample{Strata: []*campaignv1.Stratum{{StratumId: "x"}}, Plots: []*campaignv1.Plot{{PlotId: "a", StratumId: "y"}}}})
	for _, field := range []string{"survey.sample", "survey.sample.radius_m", "survey.sample.strata[0].area_m2", "survey.sample.plots[0].stratum_id"} {
		assert.Contains(t, violationsOf(t, err), field)
	}
	_, err = s.survey("sites/s1", "ahead", &campaignv1.Survey{Date: on(2026, 9, 20), Stems: trees(1)})
	assert.Contains(t, violationsOf(t, err), "survey.date")
}

// violationsOf are the fields that a call was refused for.
func violationsOf(t *testing.T, err error) []string {
	t.Helper()
	require.Error(t, err)
	_, bad := details(t, err)
	require.NotNil(t, bad)
	var fields []string
	for _, v := range bad.GetFieldViolations() {
		fields = append(fields, v.GetField())
	}
	return fields
}

func become(r, other *campaignv1.Record) {
	proto.Reset(r)
	proto.Merge(r, other)
}

// A published cost of injection, in dollars of 2000: 159 stems an acre, $39.28, $0.247 a
// stem (H01 of the facts). A default rate is told as one.
func TestCostsAndDefaultsAreTold(t *testing.T) {
	s := newSeason(t, ground(10))
	tree := treeAt("t1", 40.4)
	tree.Count = ptr(int64(159))
	s.surveyed("sites/s1", tree)
	p := s.plan("a", "sites/s1")
	require.Len(t, p.GetJobs(), 1)
	method := p.GetJobs()[0].GetChoice().GetMethod()
	assert.Contains(t, fmt.Sprint(p.GetRemarks()), "a default of common practice, without a source")
	a, err := newSeasonLike(t, tree).CreatePlan(t.Context(), &campaignv1.CreatePlanRequest{PlanId: "b", RequestId: s.id(), Plan: &campaignv1.Plan{
		From: on(2026, 7, 1), Sites: []string{"sites/s1"}, Crews: []*campaignv1.Crew{{CrewId: "one", People: 2, HoursPerDay: 6}}, RainDaysPercent: ptr(0.0),
		Rates:    []*campaignv1.ProductionRate{{Method: method, StemsPerHour: 30, SetupH: ptr(0.5), CostPerStem: ptr(0.247)}},
		Settings: &treatmentv1.Settings{Standing: commonv1.Standing_STANDING_CERTIFIED},
	}})
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(a.GetPlan().GetRemarks()), "159 stems at 0.247 each cost 39.27")
	assert.NotContains(t, fmt.Sprint(a.GetPlan().GetRemarks()), "default")
	assert.InDelta(t, 0.5+159.0/30, a.GetPlan().GetJobs()[0].GetHours(), 1.0/60)
}

func newSeasonLike(t *testing.T, stems ...*treatmentv1.Stem) *seasoned {
	s := newSeason(t, ground(10))
	s.surveyed("sites/s1", stems...)
	return s
}

// Work over midnight counts in its own check, and what passes a maximum is told.
func TestAMaximumThatIsPassedOverMidnightIsTold(t *testing.T) {
	s := newSeason(t, ground(0.05))
	s.surveyed("sites/s1", trees(1)...)
	job := s.plan("a", "sites/s1").GetJobs()[0]
	s.At(time.Date(2026, 8, 12, 16, 0, 0, 0, time.UTC))
	r := useOf(job, 2026, 8, 10)
	start := time.Date(2026, 8, 11, 3, 30, 0, 0, time.UTC) // 23:30 at the place
	r.StartTime, r.EndTime = timestamppb.New(start), timestamppb.New(start.Add(time.Hour))
	r.ProductMl = ptr(9_000.0)
	kept, err := s.record("night", r)
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(kept.GetBreaches()), "passes the annual maximum of "+kept.GetActive())
}

// Plans overlap, records come late: nothing is planned twice, no maximum hides, and what
// is treated twice is told.
func TestLaterPlansAndLateRecords(t *testing.T) {
	s := newSeason(t, ground(0.05))
	s.surveyed("sites/s1", trees(1)...)
	job := s.plan("a", "sites/s1").GetJobs()[0]
	later, err := s.CreatePlan(t.Context(), &campaignv1.CreatePlanRequest{PlanId: "b", RequestId: s.id(), Plan: &campaignv1.Plan{
		From: on(2026, 12, 1), Sites: []string{"sites/s1"}, Crews: []*campaignv1.Crew{{CrewId: "one", People: 2, HoursPerDay: 6}},
		Settings: &treatmentv1.Settings{Standing: commonv1.Standing_STANDING_CERTIFIED},
	}})
	require.NoError(t, err)
	assert.Empty(t, later.GetPlan().GetJobs(), "plan a is open")
	assert.Contains(t, later.GetPlan().GetRemarks()[0], "nothing to plan")

	s.At(time.Date(2026, 9, 12, 16, 0, 0, 0, time.UTC))
	first := useOf(job, 2026, 9, 1)
	first.ProductMl = ptr(200.0)
	_, err = s.record("first", first)
	require.NoError(t, err)
	late := useOf(job, 2026, 8, 1)
	late.ProductMl = ptr(9_000.0)
	kept, err := s.record("late", late)
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(kept.GetBreaches()), "passes the annual maximum")
	assert.Contains(t, fmt.Sprint(kept.GetBreaches()), "treated t1 again")
}

// What is pulled by hand has no dose: its stems are those of the rows, it gets its days,
// and what was left undone by the end of the year is planned anew.
func TestHandPullGetsDays(t *testing.T) {
	s := newSeason(t, ground(10))
	counted, patch := treeAt("p1", 40.4), treeAt("p2", 40.4)
	for _, stem := range []*treatmentv1.Stem{counted, patch} {
		stem.Form, stem.DiameterCm, stem.HeightM = commonv1.GrowthForm_GROWTH_FORM_SEEDLING, ptr(1.0), ptr(0.3)
		stem.RootCheck, stem.Soil = commonv1.RootCheck_ROOT_CHECK_TAPROOT, commonv1.SoilState_SOIL_STATE_MOIST
	}
	counted.Count = ptr(int64(200))
	patch.StemDensityPerHa, patch.AreaM2 = ptr(4_000.0), ptr(100.0)
	s.surveyed("sites/s1", counted, patch)
	p := s.plan("a", "sites/s1")
	require.Len(t, p.GetJobs(), 1, "%v", p.GetMisfits())
	job := p.GetJobs()[0]
	require.Equal(t, commonv1.Method_METHOD_HAND_PULL, job.GetChoice().GetMethod())
	assert.Nil(t, job.GetTreatUntil(), "it never closes")
	assert.EqualValues(t, 240, job.GetStems())
	assert.EqualValues(t, 200, job.GetRows()[0].GetStems())
	assert.EqualValues(t, 40, job.GetRows()[1].GetStems(), "4,000 a hectare on 100 square metres")
	assert.InDelta(t, 240.0/30, job.GetHours(), 1.0/60, "at the default rate")
	var stems int64
	for _, shift := range p.GetShifts() {
		stems += shift.GetStems()
	}
	assert.EqualValues(t, 240, stems)
	assert.Empty(t, p.GetMisfits())

	s.At(time.Date(2026, 12, 31, 16, 0, 0, 0, time.UTC))
	assert.Empty(t, s.plan("b", "sites/s1").GetJobs(), "plan a is open to the end of the year")
	s.At(time.Date(2027, 1, 1, 16, 0, 0, 0, time.UTC))
	again := s.plan("c", "sites/s1").GetJobs()
	require.Len(t, again, 1)
	assert.EqualValues(t, 240, again[0].GetStems())
}

// A plan does not take what was felled, and says so.
func TestAPlanLeavesOutWhatWasFelled(t *testing.T) {
	s := newSeasonLike(t, trees(2)...)
	_, err := s.CreateVisit(t.Context(), &campaignv1.CreateVisitRequest{Parent: "sites/s1", VisitId: "fell", RequestId: s.id(), Visit: &campaignv1.Visit{
		Kind: campaignv1.VisitKind_VISIT_KIND_FELLING, Date: on(2026, 6, 30), FelledStemIds: []string{"t1"},
	}})
	require.NoError(t, err)
	p := s.plan("a", "sites/s1")
	require.Len(t, p.GetJobs(), 1)
	require.Len(t, p.GetJobs()[0].GetRows(), 1)
	assert.Equal(t, "t2", p.GetJobs()[0].GetRows()[0].GetStemId())
	assert.Contains(t, p.GetRemarks(), "sites/s1: felled before a treatment, and not seen since: t1; survey the sprouts, and plan anew")
}

// Sprouts of a felled stem are planned from what was seen of them, though the plan for the
// stem is open; a record that names it as if it stood is told.
func TestSproutsOfAFelledStemArePlannedAnew(t *testing.T) {
	s := newSeasonLike(t, trees(2)...)
	a := s.plan("a", "sites/s1")
	visit := func(id string, v *campaignv1.Visit) {
		_, err := s.CreateVisit(t.Context(), &campaignv1.CreateVisitRequest{Parent: "sites/s1", VisitId: id, RequestId: s.id(), Visit: v})
		require.NoError(t, err)
	}
	s.At(time.Date(2026, 8, 11, 16, 0, 0, 0, time.UTC))
	visit("fell", &campaignv1.Visit{Kind: campaignv1.VisitKind_VISIT_KIND_FELLING, Date: on(2026, 7, 20), FelledStemIds: []string{"t1"}})
	kept, err := s.record("early", useOf(a.GetJobs()[0], 2026, 8, 9))
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(kept.GetBreaches()), "treated t1, felled before and not seen since")

	s = newSeasonLike(t, trees(2)...)
	s.plan("a", "sites/s1")
	s.At(time.Date(2026, 8, 11, 16, 0, 0, 0, time.UTC))
	visit("fell", &campaignv1.Visit{Kind: campaignv1.VisitKind_VISIT_KIND_FELLING, Date: on(2026, 7, 20), FelledStemIds: []string{"t1"}})
	sprout := treeAt("t1", 40.4)
	sprout.Form, sprout.DiameterCm, sprout.HeightM = commonv1.GrowthForm_GROWTH_FORM_STUMP_SPROUT, ptr(1.0), ptr(0.5)
	visit("sprouts", &campaignv1.Visit{
		Kind: campaignv1.VisitKind_VISIT_KIND_INSPECTION, Date: on(2026, 8, 10), SearchMin: ptr(60.0),
		Found: []*campaignv1.Find{{Kind: campaignv1.FindKind_FIND_KIND_STUMP_SPROUT, Stem: sprout}},
	})
	b := s.plan("b", "sites/s1")
	require.Len(t, b.GetJobs(), 1, "%v", b.GetRemarks())
	assert.Equal(t, "t1", b.GetJobs()[0].GetRows()[0].GetStemId())
}

// What never closes is done by its plan up to its last day, and by no other after it; until
// then its amount is committed in each year that it reaches into.
func TestWorkWithoutALastDayEndsWithItsYear(t *testing.T) {
	pear := func(id string) *treatmentv1.Stem {
		stem := treeAt(id, 40.4)
		stem.ScientificName, stem.Bark, stem.Count = "Pyrus calleryana", commonv1.BarkState_BARK_STATE_DRY, ptr(int64(400))
		return stem
	}
	s := newSeason(t, ground(3))
	s.surveyed("sites/s1", pear("t1"))
	s.At(time.Date(2026, 12, 28, 16, 0, 0, 0, time.UTC))
	a := s.plan("a", "sites/s1")
	require.Nil(t, a.GetJobs()[0].GetTreatUntil())
	last := a.GetShifts()[len(a.GetShifts())-1].GetDate()
	s.At(time.Date(2027, 2, 1, 16, 0, 0, 0, time.UTC))
	b := s.plan("b", "sites/s1")
	require.Len(t, b.GetJobs(), 1, "after %v", last)
	for _, p := range []*campaignv1.Plan{a, b} {
		q := fairDay(p.GetJobs()[0].GetJobId(), time.Date(2027, 2, 2, 17, 0, 0, 0, time.UTC))
		q.Plan = p.GetName()
		answer, err := s.CheckDay(t.Context(), q)
		require.NoError(t, err)
		assert.Equal(t, p == a, answer.GetVerdict() == campaignv1.Verdict_VERDICT_NO_GO, p.GetName())
	}

	s = newSeason(t, ground(0.3))
	s.surveyed("sites/s1", pear("t1"))
	s.At(time.Date(2026, 12, 31, 16, 0, 0, 0, time.UTC))
	a = s.plan("a", "sites/s1")
	require.EqualValues(t, 2027, a.GetShifts()[len(a.GetShifts())-1].GetDate().GetYear())
	s.At(time.Date(2027, 1, 3, 16, 0, 0, 0, time.UTC))
	_, err := s.CreateVisit(t.Context(), &campaignv1.CreateVisitRequest{Parent: "sites/s1", VisitId: "more", RequestId: s.id(), Visit: &campaignv1.Visit{
		Kind: campaignv1.VisitKind_VISIT_KIND_INSPECTION, Date: on(2027, 1, 2), SearchMin: ptr(60.0),
		Found: []*campaignv1.Find{{Kind: campaignv1.FindKind_FIND_KIND_MISSED_STEM, Stem: pear("t9")}},
	}})
	require.NoError(t, err)
	ae := map[string]float64{}
	for _, j := range append(a.GetJobs(), s.plan("b", "sites/s1").GetJobs()...) {
		ae[j.GetChoice().GetActive()] += j.GetAeG()
	}
	known, err := shipped()
	require.NoError(t, err)
	for active, grams := range ae {
		rate, _, _ := known.AnnualMax(active)
		assert.LessOrEqual(t, grams, rate.PoundsPerAcre()*0.3*453.59237, active)
	}
}

// A record's mix and product are those of its job, as far as a record can be read.
func TestARecordIsHeldAgainstTheMix(t *testing.T) {
	s := newSeasonLike(t, trees(3)...)
	job := s.plan("a", "sites/s1").GetJobs()[0]
	s.At(time.Date(2026, 8, 11, 16, 0, 0, 0, time.UTC))
	known, err := shipped()
	require.NoError(t, err)
	own := known.Formulation(job.GetChoice().GetFormulationId())
	other := known.Formulations[0]
	if other.ID == own.ID {
		other = known.Formulations[1]
	}
	planned := job.GetChoice().GetMixGAePerL()
	require.Positive(t, planned)
	// The litres that hold the job's product at a multiple of the strength.
	at := func(times float64) float64 {
		return job.GetProductMl() * own.Strength.GramsPerLitre() / 1000 / planned / times
	}
	for name, c := range map[string]struct {
		mixL float64
		name string
		want string // empty: none
	}{
		"as-planned":        {job.GetMixL(), "", ""},
		"rounded":           {at(1.04), "", ""},
		"stronger":          {at(1.2), own.Name, fmt.Sprintf("g ae/L, and the job's mix has %.4g g ae/L: it was too strong", planned)},
		"more-than-the-mix": {job.GetProductMl() / 1000 / 2, "", "a mix holds no more product than it measures"},
		"a-bit-weaker":      {at(0.85), "", ""},
		"much-weaker":       {at(0.1), "", "so weak a dose may not kill the roots"},
		"a-trade-name":      {job.GetMixL(), "Any Name", ""},
		"its-own-id":        {job.GetMixL(), " " + own.ID, ""},
		"another-name":      {job.GetMixL(), strings.ToUpper(other.Name), fmt.Sprintf("product_name is %q, and the job applies %q", other.Name, own.Name)},
		"the-id-of-another": {job.GetMixL(), other.ID, "and the job applies"},
	} {
		r := useOf(job, 2026, 8, 10)
		r.MixL, r.ProductName = ptr(c.mixL), c.name
		kept, err := s.record(name, r)
		require.NoError(t, err)
		told := fmt.Sprint(kept.GetBreaches())
		if c.want != "" {
			assert.Contains(t, told, c.want, name)
			continue
		}
		for _, word := range []string{"g ae/L", "mix", "product_name"} {
			assert.NotContains(t, told, word, name)
		}
	}
}
