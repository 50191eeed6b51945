package rules_test

import (
	"fmt"
	"reflect"
	"slices"
	"time"

	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// The draws below come from few values, so that rows and stems often meet.

var (
	drawnSpecies      = []string{"Ailanthus altissima", "Rhamnus cathartica"}
	drawnActives      = []string{"triclopyr", "imazapyr"}
	drawnPlaces       = []string{"us", "us/velmora", creek}
	drawnPlaceClasses = []rules.PlaceClass{rules.School, rules.Apiary}
	drawnWaters       = []rules.WaterClass{rules.PerennialStream, rules.Lake, rules.Intake, rules.IntakeCategory1}
)

// sometimes draws a value, or gives zero in one of so many draws.
func sometimes[T any](t *rapid.T, name string, oneIn int, value func() T) (v T) {
	if rapid.IntRange(1, oneIn).Draw(t, name+"?") == 1 {
		return v
	}
	return value()
}

func drawWord[T rules.Vocabulary](t *rapid.T, name string) T {
	return sometimes(t, name, 4, func() T { return rapid.SampledFrom(rules.Words[T]()[:2]).Draw(t, name) })
}

// drawSet draws a part of a selector, mostly empty.
func drawSet[T rules.Vocabulary](t *rapid.T, name string) rules.OneOf[T] {
	if rapid.IntRange(0, 5).Draw(t, name+" stated?") > 0 {
		return 0
	}
	return rules.AnyOf(rapid.SliceOfN(rapid.SampledFrom(rules.Words[T]()[:2]), 1, 2).Draw(t, name)...)
}

func drawNames(t *rapid.T, name string, from []string) []string {
	if rapid.IntRange(0, 4).Draw(t, name+" stated?") > 0 {
		return nil
	}
	return []string{rapid.SampledFrom(from).Draw(t, name)}
}

func drawSelector(t *rapid.T) rules.Selector {
	return rules.Selector{
		Species: drawNames(t, "species", drawnSpecies), Actives: drawNames(t, "actives", drawnActives),
		Suckering: drawSet[rules.Suckering](t, "suckering"), Forms: drawSet[rules.GrowthForm](t, "forms"),
		Methods: drawSet[rules.Method](t, "methods"), Equipment: drawSet[rules.Equipment](t, "equipment"),
		Formulations: drawSet[rules.FormulationKind](t, "formulations"), SoilActivity: drawSet[rules.SoilActivity](t, "soil activity"),
		AquaticLabel: drawSet[rules.AquaticLabel](t, "aquatic label"), RestrictedUse: drawSet[rules.RestrictedUse](t, "restricted use"),
		Toxicity: drawSet[rules.ToxicityCategory](t, "toxicity"), Droplets: drawSet[rules.Droplet](t, "droplets"),
		LandUses: drawSet[rules.LandUse](t, "land uses"), Soil: drawSet[rules.SoilState](t, "soil"),
		Bark: drawSet[rules.BarkState](t, "bark"), Desirable: drawSet[rules.Desirable](t, "desirable"),
		Ranges: drawRanges(t), DriftControl: drawSet[rules.DriftControl](t, "drift control"),
	}
}

func drawRanges(t *rapid.T) []rules.Range {
	if rapid.IntRange(0, 2).Draw(t, "ranges stated?") > 0 {
		return nil
	}
	q := rapid.SampledFrom(rules.Words[rules.Measure]()).Draw(t, "measure")
	v := rapid.Int64Range(1, 3).Draw(t, "end")
	return []rules.Range{rapid.SampledFrom([]rules.Range{
		rules.AtLeast(q, v), rules.Above(q, v), rules.AtMost(q, v), rules.Below(q, v), {Of: q, Min: v, Max: v + 1, MaxOpen: true},
	}).Draw(t, "range")}
}

func drawYear(t *rapid.T, name string) civil.Window {
	day := func(end string) civil.DayOfYear {
		return civil.DayOfYear{Month: time.Month(rapid.IntRange(1, 12).Draw(t, name+" "+end)), Day: 15}
	}
	return civil.Window{From: day("from"), To: day("to")}
}

func drawBuffer(t *rapid.T) rules.Buffer {
	b := rules.Buffer{
		Water:    rules.AnyOf(rapid.SliceOfN(rapid.SampledFrom(drawnWaters), 1, 3).Draw(t, "waters")...),
		Distance: quantity.Micrometres(rapid.Int64Range(1, 5).Draw(t, "buffer")),
		From:     rapid.SampledFrom(rules.Words[rules.DistanceOrigin]()).Draw(t, "from"),
		WhileWet: rapid.IntRange(0, 3).Draw(t, "while wet?") == 0,
	}
	switch rapid.IntRange(0, 5).Draw(t, "more of the buffer") {
	case 0:
		b.Along = rules.AlongSlope
	case 1:
		b.Activity = rules.MixAndLoad
	case 2, 3:
		b.Distance++ // so that there is a shorter one
		b.Reduction = rules.Reduction{Distance: b.Distance - 1, Evidence: "a survey", DecidedBy: "the district", RecordField: "reduction"}
	}
	if b.From > rules.WaterEdge && rapid.Bool().Draw(t, "allowance?") {
		b.Allowance = rules.Allowance{Distance: quantity.Micrometres(rapid.Int64Range(1, 3).Draw(t, "allowance")), Basis: "a survey"}
	}
	return b
}

func drawSetback(t *rapid.T) rules.Setback {
	s := rules.Setback{
		Places:   rules.AnyOf(rapid.SliceOfN(rapid.SampledFrom(drawnPlaceClasses), 1, 2).Draw(t, "places")...),
		Distance: quantity.Micrometres(rapid.Int64Range(1, 5).Draw(t, "setback")),
	}
	if rapid.Bool().Draw(t, "in hours") {
		s.Hours = rules.ClockHours{From: 420, To: 1080}
	}
	return s
}

func drawStanding(t *rapid.T) rules.RequireStanding {
	return rules.RequireStanding{
		AtLeast:       rapid.SampledFrom(rules.Words[rules.Standing]()).Draw(t, "standing"),
		Categories:    drawSet[rules.CertificationCategory](t, "categories"),
		MaxSupervised: rapid.IntRange(0, 1).Draw(t, "supervised"),
	}
}

func drawEffect(t *rapid.T) rules.Effect {
	switch rapid.IntRange(0, 9).Draw(t, "effect") {
	case 0:
		return rules.Prohibit{}
	case 1, 2, 3:
		return drawBuffer(t)
	case 4:
		return rules.Window{Open: drawYear(t, "window")}
	case 5:
		return drawStanding(t)
	case 6:
		return rules.Cap{Active: rapid.SampledFrom(drawnActives).Draw(t, "active"), Rate: quantity.ArealRate(rapid.Int64Range(1, 3).Draw(t, "rate"))}
	case 7, 8:
		return drawSetback(t)
	}
	return rapid.SampledFrom([]rules.Effect{
		rules.Computed{Method: "degree days", Needs: rules.AnyOf(rules.FactPosition)},
		rules.Permit{Name: "a permit", From: "the district"}, rules.Warn{Message: "take care"}, rules.EntryInterval{Hours: 12}, rules.ExclusionZone{},
	}).Draw(t, "other effect")
}

func drawRow(t *rapid.T, id string) rules.Row {
	r := when(id, drawSelector(t), drawEffect(t))
	switch rapid.IntRange(0, 6).Draw(t, "days of the row") {
	case 0:
		r.ValidTo = midsummer - 1
	case 1:
		r.ValidFrom = midsummer + 1
	}
	for range max(0, rapid.IntRange(-2, 2).Draw(t, "exceptions")) {
		r.Unless = append(r.Unless, drawException(t))
	}
	if rapid.IntRange(0, 2).Draw(t, "in a season?") == 0 {
		r.During = drawYear(t, "during")
	}
	return r
}

// drawException draws a selector that states something.
func drawException(t *rapid.T) rules.Selector {
	s := drawSelector(t)
	if reflect.ValueOf(s).IsZero() {
		s.Soil = rules.AnyOf(rules.SoilDry)
	}
	return s
}

func drawTable(t *rapid.T, id string, layer rules.Layer, scope string) rules.Table {
	table := validTable()
	m := &table.Manifest
	m.ID, m.Layer, m.Scope = id, layer, scope
	m.Version = rapid.SampledFrom([]string{"1", "2"}).Draw(t, "version")
	switch rapid.IntRange(0, 6).Draw(t, "days of the set") {
	case 0:
		m.ValidTo = midsummer - 1
	case 1:
		m.ValidFrom = midsummer + 1
	}
	table.Rows = nil
	for i := range rapid.IntRange(1, 6).Draw(t, "rows") {
		table.Rows = append(table.Rows, drawRow(t, fmt.Sprintf("row-%d", i)))
	}
	return table
}

// drawSets draws sets for the levels of a place; some levels may have none, and
// some two.
func drawSets(t *rapid.T) []*rules.Set {
	var sets []*rules.Set
	for range rapid.IntRange(0, 5).Draw(t, "sets") {
		sets = append(sets, drawASet(t))
	}
	return sets
}

func drawASet(t *rapid.T) *rules.Set {
	level := rapid.IntRange(0, 2).Draw(t, "level")
	layer := rules.Federal + rules.Layer(level)
	switch rapid.IntRange(0, 8).Draw(t, "no law?") {
	case 0:
		layer = rules.Biology
	case 1:
		level, layer = 2, rules.Owner
	}
	id := fmt.Sprintf("%s-%d", layer, rapid.IntRange(0, 1).Draw(t, "which"))
	set, err := rules.NewSet(drawTable(t, id, layer, drawnPlaces[level]))
	if err != nil {
		t.Fatal(err)
	}
	return set
}

// knowledge is what is known of one treatment of one stem, a fact a function:
// leaving some out is knowing less.
type knowledge []fact

type fact struct {
	name string
	know func(*rules.Treatment, *rules.Surroundings)
}

// stem puts together what is known, without the facts whose indices are left out.
func (k knowledge) stem(without ...int) (rules.Treatment, rules.Surroundings) {
	var t rules.Treatment
	var s rules.Surroundings
	for i, f := range k {
		skip := false
		for _, w := range without {
			skip = skip || w == i
		}
		if !skip {
			f.know(&t, &s)
		}
	}
	return t, s
}

// drawKnowledge draws facts, each of them known and none against another. The
// applicator's standing is drawn apart: who does not state it is asked for it as
// a condition.
func drawKnowledge(t *rapid.T) knowledge {
	var k knowledge
	add := func(name string, know func(*rules.Treatment, *rules.Surroundings)) { k = append(k, fact{name, know}) }
	species := rapid.SampledFrom(drawnSpecies).Draw(t, "species")
	add("species", func(t *rules.Treatment, _ *rules.Surroundings) { t.Species = species })
	words := drawWords(t)
	if rapid.IntRange(0, 4).Draw(t, "no herbicide?") == 0 {
		add("no herbicide", func(t *rules.Treatment, _ *rules.Surroundings) { t.NoHerbicide = true })
	} else {
		words = append(words, drawProduct(t)...)
	}
	k = append(k, words...)
	for _, q := range rules.Words[rules.Measure]() {
		v := rapid.Int64Range(0, 4).Draw(t, q.String())
		add(q.String(), func(_ *rules.Treatment, s *rules.Surroundings) { s.Measures.Set(q, v) })
	}
	return slices.Concat(k, drawWater(t), drawPlaces(t), drawApplicator(t))
}

// drawProduct draws what is known of a product and of how it is applied, of which
// there is nothing to know where none is.
func drawProduct(t *rapid.T) knowledge {
	active := rapid.SampledFrom(drawnActives).Draw(t, "active")
	release := quantity.Micrometres(rapid.Int64Range(1, 4).Draw(t, "release height"))
	carrier, dose := rapid.Int64Range(1, 4).Draw(t, "carrier"), rapid.Int64Range(1, 4).Draw(t, "dose")
	word := rules.Treatment{
		Equipment: known[rules.Equipment](t), DriftControl: known[rules.DriftControl](t),
		Formulation: known[rules.FormulationKind](t), SoilActivity: known[rules.SoilActivity](t), AquaticLabel: known[rules.AquaticLabel](t),
		RestrictedUse: known[rules.RestrictedUse](t), Toxicity: known[rules.ToxicityCategory](t),
		Droplet: rapid.SampledFrom(rules.Words[rules.Droplet]()).Draw(t, "droplet"),
	}
	k := knowledge{
		{"active", func(t *rules.Treatment, _ *rules.Surroundings) { t.Active = active }},
		{"equipment", func(t *rules.Treatment, _ *rules.Surroundings) { t.Equipment = word.Equipment }},
		{"drift control", func(t *rules.Treatment, _ *rules.Surroundings) { t.DriftControl = word.DriftControl }},
		{"carrier", func(t *rules.Treatment, _ *rules.Surroundings) { t.CarrierMlPerHa = carrier }},
		{"dose", func(t *rules.Treatment, _ *rules.Surroundings) { t.DosePermille = dose }},
		{"formulation", func(t *rules.Treatment, _ *rules.Surroundings) { t.Formulation = word.Formulation }},
		{"soil activity", func(t *rules.Treatment, _ *rules.Surroundings) { t.SoilActivity = word.SoilActivity }},
		{"aquatic label", func(t *rules.Treatment, _ *rules.Surroundings) { t.AquaticLabel = word.AquaticLabel }},
		{"restricted use", func(t *rules.Treatment, _ *rules.Surroundings) { t.RestrictedUse = word.RestrictedUse }},
		{"toxicity", func(t *rules.Treatment, _ *rules.Surroundings) { t.Toxicity = word.Toxicity }},
		{"droplet", func(t *rules.Treatment, _ *rules.Surroundings) { t.Droplet = word.Droplet }},
	}
	if word.Droplet != rules.DropletNone {
		k = append(k, fact{"release height", func(t *rules.Treatment, _ *rules.Surroundings) { t.ReleaseHeight = release }})
	}
	return k
}

// drawApplicator draws what is known of the applicator, the standing apart, and of
// what was granted.
func drawApplicator(t *rapid.T) knowledge {
	categories := rules.AnyOf(known[rules.CertificationCategory](t))
	k := knowledge{{"categories", func(t *rules.Treatment, _ *rules.Surroundings) { t.Categories = categories }}}
	for _, set := range []string{"federal-0", "state-0", "district-0"} {
		granted := fmt.Sprintf("%s/row-%d", set, rapid.IntRange(0, 2).Draw(t, "granted by "+set))
		k = append(k, fact{granted, func(t *rules.Treatment, _ *rules.Surroundings) { t.Granted = append(t.Granted, granted) }})
	}
	return k
}

func drawPlaces(t *rapid.T) knowledge {
	var k knowledge
	for _, c := range drawnPlaceClasses {
		d := rules.PlaceDistance{Distance: quantity.Micrometres(rapid.Int64Range(0, 6).Draw(t, c.String())), AtLeast: true}
		k = append(k, fact{c.String(), func(_ *rules.Treatment, s *rules.Surroundings) { s.Places.Set(c, d) }})
		if rapid.Bool().Draw(t, c.String()+" exact") {
			k = append(k, fact{c.String() + " exactness", func(_ *rules.Treatment, s *rules.Surroundings) {
				if now, known := s.Places.Get(c); known {
					s.Places.Set(c, rules.PlaceDistance{Distance: now.Distance})
				}
			}})
		}
	}
	return k
}

func drawWords(t *rapid.T) knowledge {
	word := rules.Treatment{Suckering: known[rules.Suckering](t), Method: known[rules.Method](t), LandUse: known[rules.LandUse](t)}
	site := rules.Surroundings{Form: known[rules.GrowthForm](t), Soil: known[rules.SoilState](t), Bark: known[rules.BarkState](t), Desirable: known[rules.Desirable](t)}
	return knowledge{
		{"suckering", func(t *rules.Treatment, _ *rules.Surroundings) { t.Suckering = word.Suckering }},
		{"method", func(t *rules.Treatment, _ *rules.Surroundings) { t.Method = word.Method }},
		{"land use", func(t *rules.Treatment, _ *rules.Surroundings) { t.LandUse = word.LandUse }},
		{"form", func(_ *rules.Treatment, s *rules.Surroundings) { s.Form = site.Form }},
		{"soil", func(_ *rules.Treatment, s *rules.Surroundings) { s.Soil = site.Soil }},
		{"bark", func(_ *rules.Treatment, s *rules.Surroundings) { s.Bark = site.Bark }},
		{"desirable", func(_ *rules.Treatment, s *rules.Surroundings) { s.Desirable = site.Desirable }},
	}
}

func known[T rules.Vocabulary](t *rapid.T) T {
	return rapid.SampledFrom(rules.Words[T]()[:2]).Draw(t, fmt.Sprintf("%T", T(0)))
}

// drawWater draws distances. Of each, the origin and that it is a distance, not
// a least one, are facts of their own.
func drawWater(t *rapid.T) knowledge {
	var k knowledge
	var intake rules.WaterDistance
	for _, c := range drawnWaters {
		d := rules.WaterDistance{
			Distance: quantity.Micrometres(rapid.Int64Range(0, 6).Draw(t, c.String())),
			Origin:   rapid.SampledFrom(rules.Words[rules.DistanceOrigin]()).Draw(t, c.String()+" from"),
			State:    known[rules.WaterState](t),
		}
		switch c {
		case rules.Intake:
			intake = d
		case rules.IntakeCategory1: // it is an intake too, and no nearer than the nearest
			d.Distance, d.Origin, d.State = max(d.Distance, intake.Distance), intake.Origin, intake.State
		}
		k = append(k, factsOfWater(c, d, rapid.Bool().Draw(t, c.String()+" exact"))...)
	}
	return k
}

func factsOfWater(c rules.WaterClass, d rules.WaterDistance, exact bool) knowledge {
	k := knowledge{{c.String(), func(_ *rules.Treatment, s *rules.Surroundings) {
		s.Water.Set(c, rules.WaterDistance{Distance: d.Distance, AtLeast: true})
	}}}
	change := func(name string, edit func(*rules.WaterDistance)) {
		k = append(k, fact{c.String() + " " + name, func(_ *rules.Treatment, s *rules.Surroundings) {
			if now, known := s.Water.Get(c); known {
				edit(&now)
				s.Water.Set(c, now)
			}
		}})
	}
	change("origin", func(now *rules.WaterDistance) { now.Origin = d.Origin })
	change("state", func(now *rules.WaterDistance) { now.State = d.State })
	if exact {
		change("exactness", func(now *rules.WaterDistance) { now.AtLeast = false })
	}
	return k
}

// drawStem draws a treatment and a stem of which some things are not known.
func drawStem(t *rapid.T) (rules.Treatment, rules.Surroundings) {
	k := drawKnowledge(t)
	treatment, site := k.stem(rapid.SliceOfN(rapid.IntRange(0, len(k)-1), 0, 4).Draw(t, "not known")...)
	treatment.Standing = drawWord[rules.Standing](t, "standing")
	return treatment, site
}
