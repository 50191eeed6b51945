package campaign_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/campaign"
	"example.org/rootward/server/campaign/after"
)

func on(t testing.TB, s string) civil.Date {
	t.Helper()
	d, err := civil.Parse(s)
	require.NoError(t, err)
	return d
}

func yearly(fromMonth, fromDay, toMonth, toDay int) civil.Window {
	return civil.Window{
		From: civil.DayOfYear{Month: time.Month(fromMonth), Day: fromDay}, To: civil.DayOfYear{Month: time.Month(toMonth), Day: toDay},
	}
}

// site is a site of two stems, 10 m apart, that are to be felled from mid-November to
// April (T16: Rutgers Plant & Pest Advisory, tree-of-heaven timing).
func site(t testing.TB) *campaign.Site {
	felling := yearly(11, 15, 4, 30)
	leaf := yearly(6, 1, 9, 30)
	return &campaign.Site{
		Surveys: []campaign.Survey{{ID: "survey", On: on(t, "2026-05-20"), Rows: []campaign.Row{stem("a", 0), stem("b", 1)}}},
		Works:   []campaign.Work{work(t, "plan/1", "2026-07-15", "2026-10-15", "a", "b")},
		Demand:  after.Demand{Leaf: leaf, MinutesPerHectare: 60}, Wanted: 2, ToBeFelled: rules.Yes,
		Felling: after.FellingRule{Season: &felling, Leaf: &leaf},
	}
}

func stem(id string, place int) campaign.Row {
	at := after.Position{Latitude: 40, Longitude: -75 + float64(place)*0.000117}
	return campaign.Row{ID: id, Suckering: rules.SuckeringStrong, Ground: after.Ground{ID: id, At: &at}}
}

func work(t testing.TB, id, from, until string, rows ...string) campaign.Work {
	return campaign.Work{ID: id, From: on(t, from), Until: on(t, until), PlannedOn: on(t, from), Rows: rows}
}

func use(t testing.TB, work, day string, rows ...string) campaign.Use {
	return campaign.Use{ID: "use of " + day, On: on(t, day), Work: work, Rows: rows, Systemic: true}
}

// inspection is a visit with enough search of everything.
func inspection(t testing.TB, day string, finds ...campaign.Row) campaign.Visit {
	return campaign.Visit{ID: "visit of " + day, On: on(t, day), Looked: true, Minutes: 600, Walked: quantity.Percent(100), Finds: finds}
}

func found(id string, k after.Kind) campaign.Row {
	r := stem(id, 2)
	r.Kind = k
	return r
}

type kept func(testing.TB, *campaign.Site)

func uses(work, day string, rows ...string) kept {
	return func(t testing.TB, s *campaign.Site) { s.Uses = append(s.Uses, use(t, work, day, rows...)) }
}

func visits(day string, finds ...campaign.Row) kept {
	return func(t testing.TB, s *campaign.Site) { s.Visits = append(s.Visits, inspection(t, day, finds...)) }
}

func fells(day string, rows ...string) kept {
	return func(t testing.TB, s *campaign.Site) {
		s.Visits = append(s.Visits, campaign.Visit{ID: "felling", On: on(t, day), Felled: rows})
	}
}

// The order of a campaign and its dates: treated in the window, 30 days to felling at
// least (T14), felled from mid-November to April (T16), looked at in the growing seasons
// that follow (trade facts, section G).
func TestHowASiteStands(t *testing.T) {
	none := func(_ testing.TB, s *campaign.Site) { s.Works = nil }
	treated := uses("plan/1", "2026-08-10", "a", "b")
	for name, k := range map[string]struct {
		day   string
		kept  []kept
		state campaign.State
		first string // step
		from  string
	}{
		"before the survey":    {"2026-05-01", nil, campaign.ToSurvey, "survey every stem", "2026-05-01"},
		"surveyed":             {"2026-06-01", []kept{none}, campaign.ToPlan, "plan 2 rows", "2026-06-01"},
		"planned":              {"2026-06-01", nil, campaign.ToTreat, "treat 2 rows, plan/1", "2026-07-15"},
		"in the window":        {"2026-09-01", nil, campaign.ToTreat, "treat 2 rows, plan/1", "2026-07-15"},
		"the window is missed": {"2026-10-16", nil, campaign.ToPlan, "plan 2 rows anew", "2026-10-16"},
		"half treated":         {"2026-09-01", []kept{uses("plan/1", "2026-08-10", "a")}, campaign.ToTreat, "treat 1 row, plan/1", "2026-07-15"},
		"waiting":              {"2026-09-08", []kept{treated}, campaign.Waiting, "fell 2 rows", "2026-11-15"},
		"waited":               {"2026-09-09", []kept{treated}, campaign.ToInspect, "fell 2 rows", "2026-11-15"},
		"to fell":              {"2026-11-15", []kept{treated}, campaign.ToFell, "fell 2 rows", "2026-11-15"},
		"felled":               {"2026-12-15", []kept{treated, fells("2026-12-01", "a", "b")}, campaign.ToInspect, "inspect", "2027-06-01"},
		"a sucker":             {"2027-07-02", []kept{treated, visits("2027-07-01", found("c", after.RootSucker))}, campaign.ToRetreat, "plan 1 row", "2027-07-02"},
		"perhaps alive":        {"2027-07-02", []kept{treated, visits("2027-07-01", found("a", after.Doubtful))}, campaign.ToInspect, "look again at 1 row", "2027-07-02"},
		"found dead":           {"2027-07-02", []kept{treated, visits("2027-07-01", found("a", after.Dead))}, campaign.Watched, "fell 2 rows", "2027-11-15"},
		"one clean season":     {"2027-10-01", []kept{treated, visits("2027-07-01")}, campaign.Watched, "fell 2 rows", "2027-11-15"},
		"two clean seasons":    {"2028-10-01", []kept{treated, visits("2027-07-01"), visits("2028-07-01")}, campaign.Finished, "", ""},
		"not looked between":   {"2029-10-01", []kept{treated, visits("2027-07-01"), visits("2029-07-01")}, campaign.Watched, "fell 2 rows", "2029-11-15"},
	} {
		t.Run(name, func(t *testing.T) {
			s := site(t)
			for _, keep := range k.kept {
				keep(t, s)
			}
			st := s.On(on(t, k.day))
			assert.Equal(t, k.state.String(), st.State.String())
			assert.Equal(t, st.State == campaign.Finished, len(st.NotFinished) == 0, "what is not finished says why: %v", st.NotFinished)
			if k.first == "" {
				assert.Empty(t, st.Steps)
				return
			}
			require.NotEmpty(t, st.Steps)
			assert.Equal(t, k.first, st.Steps[0].What)
			assert.Equal(t, on(t, k.from), st.Steps[0].From)
		})
	}
}

func TestASampleNamesNoStem(t *testing.T) {
	s := site(t)
	s.Surveys = []campaign.Survey{{ID: "plots", On: on(t, "2026-05-20"), Sampled: true}}
	s.Works = nil
	st := s.On(on(t, "2026-06-01"))
	assert.Equal(t, campaign.ToSurvey, st.State)
	assert.Contains(t, st.NotFinished[0], "from a full inventory")
}

// An empty survey is no proof that nothing grows.
func TestNothingIsFinishedWithoutTreatment(t *testing.T) {
	s := site(t)
	s.Surveys[0].Rows = nil
	for year := 2027; year < 2035; year++ {
		s.Visits = append(s.Visits, inspection(t, fmt.Sprintf("%d-07-01", year)))
	}
	st := s.On(on(t, "2035-01-01"))
	assert.NotEqual(t, campaign.Finished, st.State)
	assert.NotEmpty(t, st.NotFinished)
}

// A use on a day that nobody knows settles nothing.
func TestAUseWithoutADayLeavesItsRowsDue(t *testing.T) {
	s := site(t)
	u := use(t, "plan/1", "2026-08-10", "a", "b")
	u.On = 0
	s.Uses = []campaign.Use{u}
	st := s.On(on(t, "2026-09-01"))
	assert.Equal(t, []string{"a", "b"}, st.Due)
	for _, f := range st.Felling {
		assert.False(t, f.From.Known(), "felling waits from a day that nobody knows")
	}
}

// What a later survey finds on a treated site starts the count of clean seasons anew.
func TestASurveyIsALook(t *testing.T) {
	s := site(t)
	s.Uses = []campaign.Use{use(t, "plan/1", "2026-08-10", "a", "b")}
	s.Visits = []campaign.Visit{inspection(t, "2027-07-01"), inspection(t, "2028-07-01")}
	require.Equal(t, campaign.Finished, s.On(on(t, "2028-12-01")).State)
	s.Surveys = append(s.Surveys, campaign.Survey{ID: "again", On: on(t, "2028-08-01"), Rows: []campaign.Row{stem("c", 3)}})
	st := s.On(on(t, "2028-12-01"))
	assert.Equal(t, campaign.ToRetreat, st.State)
	assert.Equal(t, []string{"c"}, st.Due)
	assert.Zero(t, st.Finish.Clean)
}

// A felled stem is not there to be treated: its sprouts are surveyed, and it is planned
// from what is seen then.
func TestWhatWasFelledUntreatedIsNotDueForIt(t *testing.T) {
	s := site(t)
	fells("2026-07-15", "a")(t, s)
	st := s.On(on(t, "2026-07-16"))
	assert.Equal(t, campaign.ToTreat, st.State, "b stands")
	assert.Equal(t, map[string]civil.Date{"a": on(t, "2026-07-15")}, st.Cut)
	assert.Empty(t, st.Unplanned)
	assert.NotContains(t, st.Planned, "a")
	assert.Contains(t, st.Planned, "b")
	var steps []string
	for _, step := range st.Steps {
		steps = append(steps, step.What)
	}
	assert.Equal(t, []string{"treat 1 row, plan/1", "survey the sprouts of 1 row, and plan anew"}, steps)
	assert.Empty(t, s.On(on(t, "2026-07-14")).Cut, "it stood")

	fells("2026-07-20", "b")(t, s)
	st = s.On(on(t, "2026-07-20"))
	assert.Equal(t, campaign.ToInspect, st.State)
	assert.Contains(t, st.NotFinished[0], "2 rows were felled before a treatment")

	visits("2027-07-01", found("a", after.StumpSprout))(t, s)
	st = s.On(on(t, "2027-07-01"))
	assert.Equal(t, map[string]civil.Date{"b": on(t, "2026-07-20")}, st.Cut)
	assert.Equal(t, []string{"a"}, st.Unplanned, "seen since")
}
