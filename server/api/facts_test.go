package api_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/api"
)

// fen is a district whose rules ask for facts that the other layers do not.
func fen(tb testing.TB) *rules.Set {
	sprayed := rules.AnyOf(rules.LowVolumeFoliar)
	thin := rules.Below(rules.Carrier, int64(quantity.GallonsPerAcre(10).On(quantity.Hectare)/quantity.Millilitre))
	return setOf(tb, "fen", rules.District, district,
		row("ditches", rules.Selector{Methods: sprayed},
			rules.Buffer{Water: rules.AnyOf(rules.Ditch), Distance: 10 * quantity.Metre, From: rules.WaterEdge, WhileWet: true}),
		row("lakes", rules.Selector{Methods: sprayed}, rules.Buffer{
			Water: rules.AnyOf(rules.Lake), Distance: 40 * quantity.Metre, From: rules.WaterEdge,
			Reduction: rules.Reduction{Distance: 35 * quantity.Metre, Evidence: "a plan", DecidedBy: "the district", RecordField: "reduction"},
		}),
		row("schools", rules.Selector{Methods: sprayed | rules.AnyOf(rules.BasalBark)},
			rules.Setback{Places: rules.AnyOf(rules.School, rules.Apiary), Distance: 30 * quantity.Metre}),
		row("foresters", rules.Selector{Methods: rules.AnyOf(rules.CutStump)},
			rules.RequireStanding{AtLeast: rules.Certified, Categories: rules.AnyOf(rules.CertifiedForest, rules.CertifiedAquatic)}),
		rules.Row{
			ID: "thin-spray", Purpose: "Stands for a rule.", Citation: "invented", ValidFrom: lawFrom, Effect: rules.Prohibit{},
			When:   rules.Selector{Methods: sprayed, Ranges: []rules.Range{thin}},
			Unless: []rules.Selector{{DriftControl: rules.AnyOf(rules.DriftApproved)}},
		},
	)
}

func serveFacts(tb testing.TB) clients {
	law := lawOf(nation(tb), state(tb), creek(tb), fen(tb))
	return serve(tb, func() api.Law { return law })
}

// asked is a request about one stem that can be sprayed and felled.
type asked struct {
	site     *treatmentv1.Site
	stem     *treatmentv1.Stem
	settings *treatmentv1.Settings
}

func newAsked() *asked {
	a := &asked{goodSite(), goodStem(), &treatmentv1.Settings{
		Standing:   commonv1.Standing_STANDING_CERTIFIED,
		Categories: []commonv1.CertificationCategory{commonv1.CertificationCategory_CERTIFICATION_CATEGORY_FOREST},
	}}
	a.stem.HeightM = ptr(2.0)
	return a
}

// decision is what the law says of a method.
func (a *asked) decision(t *testing.T, c clients, method commonv1.Method) commonv1.Decision {
	t.Helper()
	r, err := c.SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{Date: midsummer(), Site: a.site, Stem: a.stem, Settings: a.settings})
	require.NoError(t, err)
	for _, choice := range r.Ranked {
		if choice.Method == method {
			return choice.Decision
		}
	}
	for _, other := range r.Refused {
		if other.Method == method && other.Decision != 0 {
			return other.Decision
		}
	}
	require.Fail(t, "the method is not among the answers")
	return 0
}

// What a user states reaches the rules, and what nobody states is not known.
func TestStatedFactsDecide(t *testing.T) {
	const (
		spray = commonv1.Method_METHOD_LOW_VOLUME_FOLIAR
		fell  = commonv1.Method_METHOD_CUT_STUMP
		edge  = commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE

		// The exclusion zone around sprayers, and neighbours to be told, are conditions of all.
		may          = commonv1.Decision_DECISION_CONDITIONAL
		undetermined = commonv1.Decision_DECISION_UNDETERMINED
		prohibited   = commonv1.Decision_DECISION_PROHIBITED
	)
	place := func(class commonv1.PlaceClass, metres float64, atLeast bool) func(*asked) {
		return func(a *asked) {
			a.stem.PlaceDistances = append(a.stem.PlaceDistances, &commonv1.PlaceDistance{PlaceClass: class, DistanceM: metres, AtLeast: atLeast})
		}
	}
	water := func(class commonv1.WaterClass, metres float64, state commonv1.WaterState) func(*asked) {
		return func(a *asked) {
			a.stem.WaterDistances = append(a.stem.WaterDistances, &commonv1.WaterDistance{WaterClass: class, DistanceM: metres, Origin: edge, State: state})
		}
	}
	const (
		school, dwelling = commonv1.PlaceClass_PLACE_CLASS_SCHOOL, commonv1.PlaceClass_PLACE_CLASS_DWELLING
		ditch, lake      = commonv1.WaterClass_WATER_CLASS_DITCH, commonv1.WaterClass_WATER_CLASS_LAKE
		dry, wet         = commonv1.WaterState_WATER_STATE_DRY, commonv1.WaterState_WATER_STATE_WET
	)
	granted := func(names ...string) func(*asked) { return func(a *asked) { a.site.GrantedReductions = names } }
	category := func(list ...commonv1.CertificationCategory) func(*asked) {
		return func(a *asked) { a.settings.Categories = list }
	}
	thin := func(a *asked) { a.settings.LowVolumeGalPerAc = ptr(9.9997) }
	drift := func(d commonv1.DriftControl) func(*asked) { return func(a *asked) { a.settings.DriftControl = d } }
	for name, c := range map[string]struct {
		changes []func(*asked)
		method  commonv1.Method
		want    commonv1.Decision
	}{
		"nothing near":                    {nil, spray, may},
		"places not stated":               {[]func(*asked){func(a *asked) { a.stem.OtherPlacesBeyondM = nil }}, spray, undetermined},
		"other places may be near":        {[]func(*asked){func(a *asked) { a.stem.OtherPlacesBeyondM = ptr(29.999999) }}, spray, undetermined},
		"other places at the limit":       {[]func(*asked){func(a *asked) { a.stem.OtherPlacesBeyondM = ptr(30.0) }}, spray, may},
		"inside a school":                 {[]func(*asked){place(school, 0, false)}, spray, prohibited},
		"a school just inside the limit":  {[]func(*asked){place(school, 29.999999, false)}, spray, prohibited},
		"a school at the limit":           {[]func(*asked){place(school, 30, false)}, spray, may},
		"a school no nearer than that":    {[]func(*asked){place(school, 29, true)}, spray, undetermined},
		"a dwelling is no school":         {[]func(*asked){place(dwelling, 1, false)}, spray, may},
		"a ditch":                         {[]func(*asked){water(ditch, 9, 0)}, spray, prohibited},
		"a wet ditch":                     {[]func(*asked){water(ditch, 9, wet)}, spray, prohibited},
		"a dry ditch":                     {[]func(*asked){water(ditch, 9, dry)}, spray, may},
		"a lake within the buffer":        {[]func(*asked){water(lake, 35, 0)}, spray, prohibited},
		"a reduction granted":             {[]func(*asked){water(lake, 35, 0), granted("fen/lakes")}, spray, may},
		"a reduction granted for another": {[]func(*asked){water(lake, 35, 0), granted("fen/ditches")}, spray, prohibited},
		"within the reduced buffer":       {[]func(*asked){water(lake, 34.999999, 0), granted("x/y", "fen/lakes", "fen/lakes")}, spray, prohibited},
		"categories not stated":           {[]func(*asked){category()}, fell, undetermined},
		"another category":                {[]func(*asked){category(commonv1.CertificationCategory_CERTIFICATION_CATEGORY_REGULATORY)}, fell, prohibited},
		"one category of those asked for": {nil, fell, may},
		"10 gallons per acre":             {[]func(*asked){func(a *asked) { a.settings.LowVolumeGalPerAc = ptr(10.0) }}, spray, may},
		"less, drift control not stated":  {[]func(*asked){thin}, spray, undetermined},
		"less with usual equipment":       {[]func(*asked){thin, drift(commonv1.DriftControl_DRIFT_CONTROL_STANDARD)}, spray, prohibited},
		"less with approved equipment":    {[]func(*asked){thin, drift(commonv1.DriftControl_DRIFT_CONTROL_APPROVED)}, spray, may},
		"more whatever the equipment":     {[]func(*asked){drift(commonv1.DriftControl_DRIFT_CONTROL_STANDARD)}, spray, may},
	} {
		t.Run(name, func(t *testing.T) {
			a := newAsked()
			for _, change := range c.changes {
				change(a)
			}
			assert.Equal(t, c.want, a.decision(t, serveFacts(t), c.method))
		})
	}
}

// Sites of a place differ in what was granted, in a stream too.
func TestReductionsAreTheSitesOwn(t *testing.T) {
	c := serveFacts(t)
	stem := goodStem()
	stem.HeightM = ptr(2.0)
	stem.WaterDistances = []*commonv1.WaterDistance{{
		WaterClass: commonv1.WaterClass_WATER_CLASS_LAKE, DistanceM: 36, Origin: commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE,
	}}
	foliar := &treatmentv1.Settings{FormulationIds: []string{formulationFor(t, c, commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, "glyphosate")}}
	without, with, again := goodSite(), goodSite(), goodSite()
	with.SiteId, with.GrantedReductions = "granted", []string{"fen/lakes"}
	again.SiteId = "not granted"
	sites := []*treatmentv1.Site{without, with, again}
	rows := chunkOf(1, without.SiteId, []*treatmentv1.Stem{stem, stem, stem})
	rows.Words = append(rows.Words, with.SiteId, again.SiteId)
	rows.Site = []int32{0, int32(len(rows.Words) - 2), int32(len(rows.Words) - 1)}
	answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: sites, Settings: foliar}), chunk(rows))
	require.NoError(t, err)
	inStream := rowsOf(answers[0].GetChunk(), columnar.IDs(rows))
	foliarSaid := func(e *treatmentv1.Explanation) commonv1.Decision {
		if e.Choice.GetMethod() == commonv1.Method_METHOD_LOW_VOLUME_FOLIAR {
			return e.Choice.Decision
		}
		for _, a := range e.Alternatives {
			if a.Method == commonv1.Method_METHOD_LOW_VOLUME_FOLIAR && a.Decision != 0 {
				return a.Decision
			}
		}
		return 0
	}
	for i, site := range sites {
		r, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: site, Settings: foliar, Stems: []*treatmentv1.Stem{stem}})
		require.NoError(t, err)
		alone := answeredBy(r).Prescriptions[0]
		requireSameRow(t, alone, inStream[i])
		want := commonv1.Decision_DECISION_PROHIBITED
		if site == with {
			want = commonv1.Decision_DECISION_CONDITIONAL
		}
		assert.Equal(t, want, foliarSaid(alone.Explanation), site.SiteId)
	}
}

func TestWrongFactsAreNamed(t *testing.T) {
	c := serveFacts(t)
	a := newAsked()
	a.site.GrantedReductions = []string{"lakes", "fen/lakes", "/x"}
	a.settings.Categories = []commonv1.CertificationCategory{0, 77}
	a.settings.DriftControl = 9
	_, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: a.site, Settings: a.settings, Stems: []*treatmentv1.Stem{a.stem}})
	requireViolations(t, err, "settings.categories[0]", "settings.categories[1]", "settings.drift_control",
		"site.granted_reductions[0]", "site.granted_reductions[2]")

	a = newAsked()
	a.stem.PlaceDistances = []*commonv1.PlaceDistance{{DistanceM: 3}, {PlaceClass: 99}, {PlaceClass: 1, DistanceM: -2}, {PlaceClass: 1}}
	a.stem.WaterDistances = []*commonv1.WaterDistance{{WaterClass: 3, State: 8}}
	a.stem.OtherPlacesBeyondM = ptr(2e6)
	var fields []string
	for _, f := range prescribed(t, c, a.site, []*treatmentv1.Stem{a.stem}).Prescriptions[0].Faults {
		fields = append(fields, f.Field)
	}
	assert.Equal(t, []string{
		"other_places_beyond_m", "place_distances[0].place_class", "place_distances[1].place_class", "place_distances[2].distance_m",
		"place_distances[3].place_class", "water_distances[0].state",
	}, fields)
}

func TestColumnsOfPlacesAreChecked(t *testing.T) {
	c := serveFacts(t)
	rows := chunkOf(1, goodSite().SiteId, []*treatmentv1.Stem{goodStem()})
	rows.Places = []*treatmentv1.PlaceColumn{
		{DistanceUm: []int64{1}},
		{PlaceClass: 1, DistanceUm: []int64{1, 2}, AtLeast: []bool{true, false}},
		{PlaceClass: 1, DistanceUm: []int64{1}},
	}
	rows.OtherPlacesBeyondUm = []int64{1, 2}
	rows.Water = []*treatmentv1.WaterColumn{{WaterClass: 1, DistanceUm: []int64{1}, State: []byte{1, 1}}}
	_, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}), chunk(rows))
	requireViolations(t, err, "chunk.other_places_beyond_um", "chunk.places[0].place_class", "chunk.places[1].at_least",
		"chunk.places[1].distance_um", "chunk.places[2].place_class", "chunk.water[0].state")
}
