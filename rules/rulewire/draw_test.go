package rulewire_test

import (
	"fmt"
	"time"

	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// The draws give every word and every kind of effect.

func word[T rules.Vocabulary](t *rapid.T, name string) T {
	return rapid.SampledFrom(rules.Words[T]()).Draw(t, name)
}

func maybe[T rules.Vocabulary](t *rapid.T, name string) T {
	return rapid.SampledFrom(append(rules.Words[T](), 0)).Draw(t, name)
}

func set[T rules.Vocabulary](t *rapid.T, name string) rules.OneOf[T] {
	return rules.AnyOf(rapid.SliceOfN(rapid.SampledFrom(rules.Words[T]()), 0, 3).Draw(t, name)...)
}

func names(t *rapid.T, name string) []string {
	list := rapid.SliceOfN(rapid.StringMatching(`[A-Z][a-z]{1,8} [a-z]{1,8}`), 0, 2).Draw(t, name)
	if len(list) == 0 {
		return nil
	}
	return list
}

func text(t *rapid.T, name string) string {
	return rapid.StringMatching(`[a-zéß"\\]{3,12} [0-9]{1,3}`).Draw(t, name)
}

func day(t *rapid.T, name string) civil.Date {
	return civil.Of(2020, 1, 1) + civil.Date(rapid.IntRange(0, 4_000).Draw(t, name))
}

func yearly(t *rapid.T, name string) civil.Window {
	end := func(which string) civil.DayOfYear {
		return civil.DayOfYear{Month: time.Month(rapid.IntRange(1, 12).Draw(t, name+which)), Day: rapid.IntRange(1, 29).Draw(t, name+which+" day")}
	}
	return civil.Window{From: end(" from"), To: end(" to")}
}

func number(t *rapid.T, name string, least, most int) int {
	return rapid.IntRange(least, most).Draw(t, name)
}

func length(t *rapid.T, name string, least int64) quantity.Micrometres {
	return quantity.Micrometres(rapid.Int64Range(least, int64(quantity.Mile)).Draw(t, name))
}

func selector(t *rapid.T) rules.Selector {
	return rules.Selector{
		Species: names(t, "species"), Actives: names(t, "actives"),
		Suckering: set[rules.Suckering](t, "suckering"), Forms: set[rules.GrowthForm](t, "forms"),
		Methods: set[rules.Method](t, "methods"), Equipment: set[rules.Equipment](t, "equipment"),
		Formulations: set[rules.FormulationKind](t, "formulations"), SoilActivity: set[rules.SoilActivity](t, "soil activity"),
		AquaticLabel: set[rules.AquaticLabel](t, "aquatic label"), RestrictedUse: set[rules.RestrictedUse](t, "restricted use"),
		Toxicity: set[rules.ToxicityCategory](t, "toxicity"), Droplets: set[rules.Droplet](t, "droplets"),
		LandUses: set[rules.LandUse](t, "land uses"), Soil: set[rules.SoilState](t, "soil"),
		Bark: set[rules.BarkState](t, "bark"), Desirable: set[rules.Desirable](t, "desirable"),
		Ranges: ranges(t), DriftControl: set[rules.DriftControl](t, "drift control"),
	}
}

func ranges(t *rapid.T) []rules.Range {
	q, v := word[rules.Measure](t, "measure"), rapid.Int64Range(-1e12, 1e12).Draw(t, "end")
	return rapid.SampledFrom([][]rules.Range{
		nil, {rules.AtLeast(q, v)}, {rules.Above(q, v)}, {rules.AtMost(q, v)}, {rules.Below(q, v)},
		{{Of: q, Min: v, Max: v + 7, MinOpen: true, MaxOpen: true}},
	}).Draw(t, "ranges")
}

func maybeText(t *rapid.T, name string) string {
	if rapid.Bool().Draw(t, name+" stated") {
		return text(t, name)
	}
	return ""
}

func hours(t *rapid.T) rules.ClockHours {
	return rapid.SampledFrom([]rules.ClockHours{
		{From: 60, To: 120}, {From: 1_380, To: 300, FromAnchor: rules.Midnight}, {From: -30, To: 45, FromAnchor: rules.Sunrise, ToAnchor: rules.Sunset},
		{From: 300, To: -720, FromAnchor: rules.Midnight, ToAnchor: rules.Sunset},
	}).Draw(t, "hours")
}

func row(t *rapid.T, id string) rules.Row {
	r := rules.Row{ID: id, Purpose: text(t, "purpose") + " is the reason.", Citation: text(t, "citation"), ValidFrom: day(t, "valid from"), When: selector(t)}
	r.Effect = effects[word[rules.EffectKind](t, "kind")](t)
	r.Supersedes = rapid.SampledFrom([][]string{nil, {"older"}, {"older", "oldest"}}).Draw(t, "supersedes")
	if r.Effect.Kind() == rules.KindSeason {
		r.When = rules.Selector{Species: r.When.Species}
	} else {
		r.Unless, r.During = unless(t), during(t)
	}
	if rapid.Bool().Draw(t, "row ends") {
		r.ValidTo = r.ValidFrom + civil.Date(number(t, "row's days", 0, 1_000))
	}
	return r
}

func unless(t *rapid.T) []rules.Selector {
	var list []rules.Selector
	for range number(t, "exceptions", 0, 2) {
		s := selector(t)
		s.DriftControl |= rules.AnyOf(rules.DriftApproved)
		list = append(list, s)
	}
	return list
}

// during draws a part of the year that is not all of it.
func during(t *rapid.T) civil.Window {
	w := yearly(t, "during")
	if _, ends := w.Complement(); !ends || rapid.Bool().Draw(t, "all year") {
		return civil.Window{}
	}
	return w
}

// table draws a valid table without worked cases.
func table(t *rapid.T) rules.Table {
	m := rules.Manifest{
		ID: "drawn", Version: text(t, "version"), Title: text(t, "title"), Publisher: text(t, "publisher"),
		Layer: word[rules.Layer](t, "layer"), ValidFrom: day(t, "set from"),
	}
	m.Scope = map[rules.Layer]string{
		rules.Biology: "us", rules.Federal: "us", rules.State: "us/velmora", rules.District: "us/velmora/ossel-creek", rules.Owner: "us/velmora/ossel-creek/mill",
	}[m.Layer]
	if rapid.Bool().Draw(t, "set ends") {
		m.ValidTo, m.ReviewBy = m.ValidFrom+1_000, m.ValidFrom+500
	}
	rows := make([]rules.Row, number(t, "rows", 1, 4))
	for i := range rows {
		rows[i] = row(t, fmt.Sprintf("row-%d", i+1))
	}
	return rules.Table{Manifest: m, Rows: rows}
}

func treatment(t *rapid.T) rules.Treatment {
	return rules.Treatment{
		Species: rapid.SampledFrom([]string{"", "Ailanthus altissima"}).Draw(t, "species"), Suckering: maybe[rules.Suckering](t, "suckering"),
		Method: maybe[rules.Method](t, "method"), Equipment: maybe[rules.Equipment](t, "equipment"),
		Active: rapid.SampledFrom([]string{"", "triclopyr"}).Draw(t, "active"), Formulation: maybe[rules.FormulationKind](t, "formulation"),
		SoilActivity: maybe[rules.SoilActivity](t, "soil activity"), AquaticLabel: maybe[rules.AquaticLabel](t, "label"),
		RestrictedUse: maybe[rules.RestrictedUse](t, "restricted use"), Toxicity: maybe[rules.ToxicityCategory](t, "toxicity"),
		Droplet: maybe[rules.Droplet](t, "droplet"), ReleaseHeight: length(t, "release", 0), LandUse: maybe[rules.LandUse](t, "land use"),
		Standing: maybe[rules.Standing](t, "standing"), NoHerbicide: rapid.Bool().Draw(t, "no herbicide"),
		DriftControl: maybe[rules.DriftControl](t, "drift control"), Categories: set[rules.CertificationCategory](t, "categories"),
		CarrierMlPerHa: rapid.Int64Range(0, 1e6).Draw(t, "carrier"), DosePermille: rapid.Int64Range(0, 1_500).Draw(t, "dose"),
		Granted: rapid.SampledFrom([][]string{nil, {"drawn/row-1"}, {"drawn/row-1", "drawn/row-2"}}).Draw(t, "granted"),
	}
}

func surroundings(t *rapid.T) rules.Surroundings {
	s := rules.Surroundings{
		Form: maybe[rules.GrowthForm](t, "form"), Soil: maybe[rules.SoilState](t, "soil"),
		Bark: maybe[rules.BarkState](t, "bark"), Desirable: maybe[rules.Desirable](t, "desirable"),
	}
	for _, q := range set[rules.Measure](t, "measures").Values() {
		s.Measures.Set(q, rapid.Int64().Draw(t, "value"))
	}
	for _, c := range set[rules.WaterClass](t, "waters").Values() {
		s.Water.Set(c, rules.WaterDistance{Distance: length(t, "distance", 0), Origin: maybe[rules.DistanceOrigin](t, "origin"), AtLeast: rapid.Bool().Draw(t, "at least"), State: maybe[rules.WaterState](t, "state")})
	}
	for _, c := range set[rules.PlaceClass](t, "places").Values() {
		s.Places.Set(c, rules.PlaceDistance{Distance: length(t, "distance", 0), AtLeast: rapid.Bool().Draw(t, "at least")})
	}
	return s
}

func workedCase(t *rapid.T) rules.Case {
	c := rules.Case{
		Name: text(t, "case"), On: day(t, "on"), Treatment: treatment(t), Site: surroundings(t),
		Want: rapid.SampledFrom([]rules.Decision{rules.Allowed, rules.Conditional, rules.Undetermined, rules.Prohibited}).Draw(t, "want"),
	}
	if rapid.Bool().Draw(t, "named") {
		c.By = []string{"row-1"}
	}
	return c
}
