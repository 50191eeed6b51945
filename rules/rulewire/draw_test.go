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
		Ranges: ranges(t),
	}
}

func ranges(t *rapid.T) []rules.Range {
	q, v := word[rules.Measure](t, "measure"), rapid.Int64Range(-1e12, 1e12).Draw(t, "end")
	return rapid.SampledFrom([][]rules.Range{
		nil, {rules.AtLeast(q, v)}, {rules.Above(q, v)}, {rules.AtMost(q, v)}, {rules.Below(q, v)},
		{{Of: q, Min: v, Max: v + 7, MinOpen: true, MaxOpen: true}},
	}).Draw(t, "ranges")
}

var effects = map[rules.EffectKind]func(t *rapid.T) rules.Effect{
	rules.KindProhibit: func(*rapid.T) rules.Effect { return rules.Prohibit{} },
	rules.KindBuffer: func(t *rapid.T) rules.Effect {
		return rules.Buffer{
			Water:    set[rules.WaterClass](t, "waters") | rules.AnyOf(word[rules.WaterClass](t, "water")),
			Distance: length(t, "buffer", 1), From: word[rules.DistanceOrigin](t, "from"),
		}
	},
	rules.KindWindow: func(t *rapid.T) rules.Effect { return rules.Window{Open: yearly(t, "window")} },
	rules.KindSeason: func(t *rapid.T) rules.Effect {
		return rules.InSeason{Season: word[rules.Season](t, "season"), During: yearly(t, "during")}
	},
	rules.KindCap: func(t *rapid.T) rules.Effect {
		return rules.Cap{Active: text(t, "active"), Rate: quantity.ArealRate(rapid.Int64Range(1, 1e9).Draw(t, "rate"))}
	},
	rules.KindStanding: func(t *rapid.T) rules.Effect {
		return rules.RequireStanding{AtLeast: word[rules.Standing](t, "standing")}
	},
	rules.KindPermit: func(t *rapid.T) rules.Effect {
		return rules.Permit{Name: text(t, "permit"), From: text(t, "giver")}
	},
	rules.KindNotice: func(t *rapid.T) rules.Effect {
		n := rules.Notice{To: text(t, "to"), MinDays: number(t, "days", 0, 100), Within: length(t, "within", 0), RainDates: number(t, "rain dates", 0, 3)}
		n.MaxDays = n.MinDays + number(t, "more days", 0, 100)
		return n
	},
	rules.KindPosting: func(t *rapid.T) rules.Effect {
		return rules.Posting{Says: text(t, "sign"), Every: length(t, "every", 0), EarliestHours: number(t, "hours", 0, 100), RemoveWithinDays: number(t, "remove", 0, 100)}
	},
	rules.KindWeather: func(t *rapid.T) rules.Effect {
		w := rules.WeatherLimit{Factor: word[rules.WeatherFactor](t, "factor"), HasMin: rapid.Bool().Draw(t, "has min")}
		if w.HasMin {
			w.Min = rapid.Float64Range(-50, 50).Draw(t, "min")
		}
		if w.HasMax = !w.HasMin || rapid.Bool().Draw(t, "has max"); w.HasMax {
			w.Max = rapid.Float64Range(50, 150).Draw(t, "max")
		}
		return w
	},
	rules.KindRecord: func(t *rapid.T) rules.Effect {
		return rules.Record{Fields: []string{text(t, "field"), text(t, "field")}, WithinDays: number(t, "within", 0, 100), KeepYears: number(t, "years", 0, 10)}
	},
	rules.KindEntryInterval: func(t *rapid.T) rules.Effect { return rules.EntryInterval{Hours: number(t, "hours", 1, 100)} },
	rules.KindExclusionZone: func(t *rapid.T) rules.Effect { return rules.ExclusionZone{Radius: length(t, "radius", 0)} },
	rules.KindWarn:          func(t *rapid.T) rules.Effect { return rules.Warn{Message: text(t, "message")} },
}

func row(t *rapid.T, id string) rules.Row {
	r := rules.Row{ID: id, Purpose: text(t, "purpose") + " is the reason.", Citation: text(t, "citation"), ValidFrom: day(t, "valid from"), When: selector(t)}
	r.Effect = effects[word[rules.EffectKind](t, "kind")](t)
	if r.Effect.Kind() == rules.KindSeason {
		r.When = rules.Selector{Species: r.When.Species}
	}
	if rapid.Bool().Draw(t, "row ends") {
		r.ValidTo = r.ValidFrom + civil.Date(number(t, "row's days", 0, 1_000))
	}
	return r
}

// table draws a valid table without worked cases.
func table(t *rapid.T) rules.Table {
	m := rules.Manifest{
		ID: "drawn", Version: text(t, "version"), Title: text(t, "title"), Publisher: text(t, "publisher"),
		Layer: word[rules.Layer](t, "layer"), Scope: "us/velmora", ValidFrom: day(t, "set from"),
	}
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
		s.Water.Set(c, rules.WaterDistance{Distance: length(t, "distance", 0), Origin: maybe[rules.DistanceOrigin](t, "origin"), AtLeast: rapid.Bool().Draw(t, "at least")})
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
