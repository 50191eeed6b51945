package campaign_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/campaign"
	"example.org/rootward/server/campaign/after"
	"example.org/rootward/server/catalogue"
	"example.org/rootward/server/treatment"
)

// A crew that does nothing but what Standing says is due, in a world that a seed drives:
// trees grow, die or survive treatment, roots sucker, rain keeps the crew at home, stems
// are missed, years pass without a visit. What the crew did is then held to the law by
// monitors that were written apart from Standing.

const seasonsSimulated = 10

// The law of the simulation: the seasons, the window of T15 and the felling season of
// T16 (Rutgers Plant & Pest Advisory, tree-of-heaven timing), and an annual maximum that
// is low enough to bind.
var (
	treating  = yearly(7, 15, 10, 15)
	leafing   = yearly(6, 1, 9, 30)
	fellingIn = yearly(11, 15, 4, 30)
	yearlyMax = quantity.PoundsPerAcre(0.5)
)

const held = "triclopyr" // and imazapyr, as the only other active that kills roots here

type tree struct {
	id       string
	at       after.Position
	inches   float64
	alive    bool
	felled   bool
	roots    bool // that live
	recorded bool // somebody has seen it
}

type simulation struct {
	*rand.Rand
	seed  uint64
	trees []*tree
	site  campaign.Site
	area  quantity.SquareMillimetres
	day   civil.Date
	begun civil.Date

	planned map[string]map[string]quantity.MicrogramsAE // work, row
	active  map[string]map[string]string                // work, row: active ingredient
	applied []application
	fellers []cutting
}

type application struct {
	on     civil.Date
	active string
	ae     quantity.MicrogramsAE
	row    string
	work   string
}

type cutting struct {
	on  civil.Date
	row string
}

var shipped = sync.OnceValues(catalogue.Default)

func newSimulation(seed uint64) *simulation {
	s := &simulation{
		Rand: rand.New(rand.NewPCG(seed, 5)), seed: seed, begun: civil.Of(2026, 3, 1), day: civil.Of(2026, 3, 1),
		planned: map[string]map[string]quantity.MicrogramsAE{}, active: map[string]map[string]string{},
	}
	s.area = quantity.Acres(0.02 + 0.5*s.Float64())
	s.site = campaign.Site{
		Demand: after.Demand{Leaf: leafing, MinutesPerHectare: 60}, Wanted: 2 + s.IntN(2), ToBeFelled: rules.YesNo(1 + s.IntN(2)),
		Felling: after.FellingRule{Season: &fellingIn, Leaf: &leafing},
	}
	for range 2 + s.IntN(8) {
		s.grow(after.Position{Latitude: 40 + s.Float64()*0.0005, Longitude: -75 + s.Float64()*0.0005}, 0.5+9*s.Float64())
	}
	return s
}

func (s *simulation) grow(at after.Position, inches float64) {
	s.trees = append(s.trees, &tree{id: fmt.Sprintf("t%d", len(s.trees)+1), at: at, inches: inches, alive: true, roots: true})
}

// run goes through the seasons by half months, and gives how the site stands then.
func (s *simulation) run(t *testing.T) *campaign.Standing {
	end := civil.Of(2026+seasonsSimulated, 12, 31)
	for ; s.day < end; s.day = s.day.AddDays(15) {
		if year, month, day := s.day.Parts(); month == 5 && day <= 15 && year > 2026 {
			s.spring()
		}
		st := s.site.On(s.day)
		if st.State == campaign.Finished {
			s.check(t, st)
			continue
		}
		s.work(t, st)
	}
	last := s.site.On(s.day)
	s.check(t, last)
	return last
}

// spring has roots that live answer, and trees grow.
func (s *simulation) spring() {
	for _, tr := range slices.Clone(s.trees) {
		switch {
		case tr.alive:
			tr.inches += 0.4
		case tr.roots && s.Float64() < 0.5:
			near := after.Position{Latitude: tr.at.Latitude + (s.Float64()-0.5)*0.0002, Longitude: tr.at.Longitude + (s.Float64()-0.5)*0.0002}
			s.grow(near, 0.5)
		case tr.roots:
			tr.roots = s.Float64() < 0.4
		}
	}
}

// work does what is due, if the crew comes to it.
func (s *simulation) work(t *testing.T, st *campaign.Standing) {
	for _, step := range st.Steps {
		if !step.From.Known() || s.day < step.From || step.Until.Known() && s.day > step.Until || s.Float64() < 0.25 {
			continue // not due, or rain
		}
		switch verb, _, _ := strings.Cut(step.What, " "); verb {
		case "survey":
			s.survey()
		case "plan":
			s.plan(t, st)
		case "treat":
			s.treat(t, step.What)
		case "fell":
			s.fell(st)
		case "inspect", "look":
			s.inspect(st)
		default:
			require.Fail(t, "a step that nobody knows", "%s", step.What)
		}
		return // one thing at a time
	}
}

func (s *simulation) survey() {
	v := campaign.Survey{ID: "survey", On: s.day}
	for _, tr := range s.trees {
		if tr.alive && s.Float64() < 0.95 {
			tr.recorded = true
			v.Rows = append(v.Rows, s.row(tr, 0))
		}
	}
	s.site.Surveys = append(s.site.Surveys, v)
}

func (s *simulation) row(tr *tree, k after.Kind) campaign.Row {
	return campaign.Row{ID: tr.id, Suckering: rules.SuckeringStrong, Kind: k, Ground: after.Ground{ID: tr.id, At: &tr.at}}
}

func (s *simulation) tree(id string) *tree {
	return s.trees[slices.IndexFunc(s.trees, func(tr *tree) bool { return tr.id == id })]
}

// plan prescribes what is due, on the day or when the window opens, with what was
// applied and is planned in that year held against the annual maximum.
func (s *simulation) plan(t *testing.T, st *campaign.Standing) {
	date := s.day
	if !treating.Holds(date) {
		date, _ = civil.Next(date, []civil.Window{treating})
	}
	year, _, _ := date.Parts()
	var stems []treatment.Stem
	for _, id := range st.Due {
		stems = append(stems, s.stem(s.tree(id)))
	}
	c, err := shipped()
	require.NoError(t, err)
	settings := treatment.DefaultSettings()
	settings.Standing = rules.Certified
	g := law(t, date)
	plans, p := treatment.PlanAll(c, g, treatment.Site{ID: "site", Area: s.area, Applied: s.used(year, true)}, &settings, stems)
	w := campaign.Work{ID: fmt.Sprintf("plan/%d", len(s.site.Works)+1), From: date, Until: civil.Of(year, 10, 15), PlannedOn: s.day}
	s.planned[w.ID], s.active[w.ID] = map[string]quantity.MicrogramsAE{}, map[string]string{}
	for i := range plans {
		if plans[i].Outcome == treatment.Prescribed {
			w.Rows = append(w.Rows, stems[i].ID)
			s.planned[w.ID][stems[i].ID] = plans[i].Dose.AE + plans[i].Second.AE
			e := p.Explain(&stems[i], &plans[i])
			if f := e.Choice.Formulation; f != nil {
				s.active[w.ID][stems[i].ID] = f.Active
			}
		}
	}
	if len(w.Rows) > 0 {
		s.site.Works = append(s.site.Works, w)
	}
}

func (s *simulation) stem(tr *tree) treatment.Stem {
	st := treatment.Stem{
		ID: tr.id, Species: "Ailanthus altissima", Form: formOf(tr), Diameter: quantity.Inches(tr.inches), Height: quantity.Feet(4 + 6*tr.inches),
		Desirable: rules.DesirableNone, LandUse: rules.Forest, Soil: rules.SoilMoist, Bark: rules.BarkDry,
	}
	st.Water.SetOthers(quantity.Mile)
	return st
}

func formOf(tr *tree) rules.GrowthForm {
	switch {
	case tr.inches < 1:
		return rules.RootSucker
	case tr.inches < 3:
		return rules.Sapling
	}
	return rules.Tree
}

// used sums a year's acid equivalent, with what is planned and may still be done.
func (s *simulation) used(year int, planned bool) map[string]quantity.MicrogramsAE {
	sum := map[string]quantity.MicrogramsAE{}
	done := map[string]bool{}
	for _, a := range s.applied {
		done[a.work+"/"+a.row] = true
		if y, _, _ := a.on.Parts(); y == year && a.active != "" {
			sum[a.active] += a.ae
		}
	}
	for _, w := range s.site.Works {
		y, _, _ := w.From.Parts()
		for _, id := range w.Rows {
			if active := s.active[w.ID][id]; planned && active != "" && y == year && s.day <= w.Until && !done[w.ID+"/"+id] {
				sum[active] += s.planned[w.ID][id]
			}
		}
	}
	return sum
}

// treat carries out planned work, but for the stems that the crew misses.
func (s *simulation) treat(t *testing.T, what string) {
	_, id, ok := strings.Cut(what, ", ")
	require.True(t, ok, what)
	w := &s.site.Works[slices.IndexFunc(s.site.Works, func(w campaign.Work) bool { return w.ID == id })]
	u := campaign.Use{ID: fmt.Sprintf("use %d", len(s.site.Uses)+1), On: s.day, Work: w.ID, Systemic: true}
	for _, id := range w.Rows {
		tr := s.tree(id)
		if s.Float64() < 0.1 || slices.ContainsFunc(s.applied, func(a application) bool { return a.work == w.ID && a.row == id }) {
			continue
		}
		u.Rows = append(u.Rows, id)
		s.applied = append(s.applied, application{s.day, s.active[w.ID][id], s.planned[w.ID][id], id, w.ID})
		if s.Float64() < 0.85 {
			tr.alive, tr.roots = false, s.Float64() < 0.2
		}
	}
	if len(u.Rows) > 0 {
		s.site.Uses = append(s.site.Uses, u)
	}
}

func (s *simulation) fell(st *campaign.Standing) {
	v := campaign.Visit{ID: fmt.Sprintf("visit %d", len(s.site.Visits)+1), On: s.day}
	for _, r := range st.Felling {
		if r.MayFell(s.day) && !slices.Contains(st.Due, r.ID) {
			tr := s.tree(r.ID)
			tr.felled, tr.alive = true, false // what lived in it is in the roots now
			v.Felled = append(v.Felled, r.ID)
			s.fellers = append(s.fellers, cutting{s.day, r.ID})
		}
	}
	s.site.Visits = append(s.site.Visits, v)
}

// inspect looks, sometimes too little, and tells what it sees, sometimes with doubts.
func (s *simulation) inspect(st *campaign.Standing) {
	v := campaign.Visit{ID: fmt.Sprintf("visit %d", len(s.site.Visits)+1), On: s.day, Looked: true, Walked: quantity.Percent(100)}
	v.Minutes, _ = s.site.Demand.MinutesFor(&st.Area)
	thorough := s.Float64() < 0.9
	if !thorough {
		v.Minutes /= 2
	}
	for _, tr := range s.trees {
		seen := s.Float64() < 0.97 && (thorough || s.Float64() < 0.5)
		switch {
		case !seen || tr.felled:
		case tr.alive && tr.recorded:
			v.Finds = append(v.Finds, s.row(tr, after.Survivor))
		case tr.alive:
			tr.recorded = true
			v.Finds = append(v.Finds, s.row(tr, after.RootSucker))
		case tr.recorded && s.Float64() < 0.01:
			v.Finds = append(v.Finds, s.row(tr, after.Doubtful))
		case tr.recorded:
			v.Finds = append(v.Finds, s.row(tr, after.Dead))
		}
	}
	s.site.Visits = append(s.site.Visits, v)
}

// check holds what was done to the law, and what Standing says to what was done.
func (s *simulation) check(t *testing.T, st *campaign.Standing) {
	where := fmt.Sprintf("seed %d, %s", s.seed, s.day)
	s.checkUses(t, where)
	s.checkFelling(t, where)
	if st.State != campaign.Finished {
		require.NotEmpty(t, st.NotFinished, "%s: not finished, and nobody says why", where)
		return
	}
	s.checkFinished(t, where)
}

func (s *simulation) checkUses(t *testing.T, where string) {
	sums := map[int]map[string]quantity.MicrogramsAE{}
	for _, a := range s.applied {
		year, month, day := a.on.Parts()
		inWindow := (month > 7 || month == 7 && day >= 15) && (month < 10 || month == 10 && day <= 15)
		require.True(t, inWindow, "%s: treated on %s", where, a.on)
		w := s.site.Works[slices.IndexFunc(s.site.Works, func(w campaign.Work) bool { return w.ID == a.work })]
		require.Contains(t, w.Rows, a.row, "%s: a use without a prescription", where)
		require.GreaterOrEqual(t, a.on, w.From, where)
		require.LessOrEqual(t, a.on, w.Until, where)
		require.NotEmpty(t, a.active, where)
		if sums[year] == nil {
			sums[year] = map[string]quantity.MicrogramsAE{}
		}
		sums[year][a.active] += a.ae
	}
	for year, by := range sums {
		for active, sum := range by {
			// Both sides in whole micrograms: pounds times acres.
			limit := quantity.MicrogramsAE(float64(yearlyMax) * s.area.Acres())
			require.LessOrEqual(t, sum, limit+1, "%s: %s in %d", where, active, year)
		}
	}
}

func (s *simulation) checkFelling(t *testing.T, where string) {
	for _, c := range s.fellers {
		var last civil.Date
		for _, a := range s.applied {
			if a.row == c.row && a.on <= c.on {
				last = max(last, a.on)
			}
		}
		require.True(t, last.Known(), "%s: felled untreated", where)
		require.GreaterOrEqual(t, int(c.on-last), 30, "%s: felled %s, treated %s", where, c.on, last)
		_, month, day := c.on.Parts()
		require.True(t, month <= 4 || month == 12 || month == 11 && day >= 15, "%s: felled on %s", where, c.on)
	}
}

// checkFinished counts the seasons anew, from the visits alone.
func (s *simulation) checkFinished(t *testing.T, where string) {
	year, month, _ := s.day.Parts()
	if month < 10 {
		year-- // this year's season is not over
	}
	for n := range s.site.Wanted {
		looked := false
		for _, v := range s.site.Visits {
			y, m, _ := v.On.Parts()
			alive := slices.ContainsFunc(v.Finds, func(r campaign.Row) bool { return r.Kind != after.Dead })
			if y == year-n && m >= 6 && m <= 9 && v.Looked {
				require.False(t, alive, "%s: finished %d years after a find", where, n)
				looked = looked || v.Minutes >= s.leastMinutes()
			}
		}
		assert.True(t, looked, "%s: finished, and nobody looked enough in %d", where, year-n)
		for _, a := range s.applied {
			y, _, _ := a.on.Parts()
			require.NotEqual(t, y, year-n, "%s: finished in the year of a treatment", where)
		}
	}
}

// leastMinutes is 60 minutes a hectare over one disc of 50 ft, which no inspection area
// is smaller than.
func (s *simulation) leastMinutes() int64 { return 60 * 730 / 10_000 }

func law(t testing.TB, date civil.Date) *rules.Governing {
	t.Helper()
	row := func(id string, when rules.Selector, effect rules.Effect) rules.Row {
		return rules.Row{ID: id, Purpose: "A rule of the simulation.", Citation: "invented", When: when, Effect: effect, ValidFrom: civil.Of(2020, 1, 1)}
	}
	in := func(id string, s rules.Season, w civil.Window) rules.Row {
		return row(id, rules.Selector{}, rules.InSeason{Season: s, During: w})
	}
	set, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{ID: "test", Version: "1", Title: "Test", Publisher: "test", Layer: rules.Federal, Scope: "us", ValidFrom: civil.Of(2020, 1, 1)},
		Rows: []rules.Row{
			in("sap", rules.SapFlow, yearly(3, 1, 5, 31)), in("leaf", rules.Growing, yearly(6, 1, 7, 14)), in("down", rules.Translocation, yearly(7, 15, 9, 30)),
			in("fall", rules.LeafDrop, yearly(10, 1, 11, 30)), in("rest", rules.Dormant, yearly(12, 1, 2, 28)),
			row("summer", rules.Selector{}, rules.Window{Open: treating}),
			row("cap-triclopyr", rules.Selector{}, rules.Cap{Active: held, Rate: yearlyMax}),
			row("cap-imazapyr", rules.Selector{}, rules.Cap{Active: "imazapyr", Rate: yearlyMax}),
			row("cap-glyphosate", rules.Selector{}, rules.Cap{Active: "glyphosate", Rate: yearlyMax}),
		},
	})
	require.NoError(t, err)
	return rules.Govern("us", date, []*rules.Set{set})
}

func TestSimulatedCampaigns(t *testing.T) {
	seeds := 1000
	if testing.Short() {
		seeds = 60
	}
	var lock sync.Mutex
	states := map[campaign.State]int{}
	uses, fellings := 0, 0
	t.Run("seeds", func(t *testing.T) {
		const shards = 20
		for shard := range shards {
			t.Run(strconv.Itoa(shard), func(t *testing.T) {
				t.Parallel()
				for seed := shard; seed < seeds; seed += shards {
					s := newSimulation(uint64(seed))
					end := s.run(t)
					lock.Lock()
					states[end.State]++
					uses, fellings = uses+len(s.applied), fellings+len(s.fellers)
					lock.Unlock()
				}
			})
		}
	})
	t.Logf("states at the end %v, rows treated %d, felled %d", states, uses, fellings)
	assert.Greater(t, states[campaign.Finished], seeds/20, "the crew gets somewhere")
	assert.Less(t, states[campaign.Finished], seeds, "and not everywhere")
	assert.Positive(t, fellings)
}
