package rulewire_test

import (
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

var effects = map[rules.EffectKind]func(t *rapid.T) rules.Effect{
	rules.KindProhibit: func(*rapid.T) rules.Effect { return rules.Prohibit{} },
	rules.KindBuffer: func(t *rapid.T) rules.Effect {
		b := rules.Buffer{
			Water:    set[rules.WaterClass](t, "waters") | rules.AnyOf(word[rules.WaterClass](t, "water")),
			Distance: length(t, "buffer", 1), From: word[rules.DistanceOrigin](t, "from"),
			Activity: maybe[rules.Activity](t, "activity"), Along: maybe[rules.DistanceAlong](t, "along"), WhileWet: rapid.Bool().Draw(t, "while wet"),
		}
		if b.Distance > 1 && rapid.Bool().Draw(t, "reducible") {
			b.Reduction = rules.Reduction{
				Distance: quantity.Micrometres(rapid.Int64Range(1, int64(b.Distance)-1).Draw(t, "reduced")),
				Evidence: text(t, "evidence"), DecidedBy: text(t, "decided by"), RecordField: text(t, "record field"),
			}
		}
		if b.From > rules.WaterEdge && rapid.Bool().Draw(t, "made up for") {
			b.Allowance = rules.Allowance{Distance: length(t, "allowance", 1), Basis: text(t, "basis")}
		}
		return b
	},
	rules.KindSetback: func(t *rapid.T) rules.Effect {
		s := rules.Setback{
			Places:   set[rules.PlaceClass](t, "places") | rules.AnyOf(word[rules.PlaceClass](t, "place")),
			Distance: length(t, "setback", 1),
		}
		if rapid.Bool().Draw(t, "in hours") {
			s.Hours = hours(t)
		}
		return s
	},
	rules.KindDailyHours: func(t *rapid.T) rules.Effect { return rules.DailyHours{Open: hours(t)} },
	rules.KindUseThreshold: func(t *rapid.T) rules.Effect {
		u := rules.UseThreshold{RepeatsCounted: word[rules.YesNo](t, "repeats"), Then: text(t, "then")}
		if rapid.Bool().Draw(t, "of shore") {
			u.Length, u.BothBanks = length(t, "shore", 1), maybe[rules.YesNo](t, "both banks")
		} else {
			u.Area, u.SingleArea = quantity.SquareMillimetres(rapid.Int64Range(1, 1e15).Draw(t, "area")), rapid.Bool().Draw(t, "single")
		}
		return u
	},
	rules.KindLookup: func(t *rapid.T) rules.Effect {
		return rules.Lookup{Register: text(t, "register"), Within: length(t, "within", 0), MaxDays: number(t, "days", 0, 100), Then: text(t, "then")}
	},
	rules.KindComputed: func(t *rapid.T) rules.Effect {
		return rules.Computed{Method: text(t, "method"), Needs: set[rules.SiteFact](t, "needs") | rules.AnyOf(word[rules.SiteFact](t, "need"))}
	},
	rules.KindWindow: func(t *rapid.T) rules.Effect { return rules.Window{Open: yearly(t, "window")} },
	rules.KindSeason: func(t *rapid.T) rules.Effect {
		return rules.InSeason{Season: word[rules.Season](t, "season"), During: yearly(t, "during")}
	},
	rules.KindCap: func(t *rapid.T) rules.Effect {
		return rules.Cap{
			Active: text(t, "active"), Rate: quantity.ArealRate(rapid.Int64Range(1, 1e9).Draw(t, "rate")),
			Over: maybe[rules.AreaCounted](t, "over"), RepeatsCounted: maybe[rules.YesNo](t, "repeats"),
		}
	},
	rules.KindStanding: func(t *rapid.T) rules.Effect {
		return rules.RequireStanding{
			AtLeast: word[rules.Standing](t, "standing"), Categories: set[rules.CertificationCategory](t, "categories"), MaxSupervised: number(t, "supervised", 0, 20),
		}
	},
	rules.KindPermit: func(t *rapid.T) rules.Effect {
		return rules.Permit{Name: text(t, "permit"), From: text(t, "giver"), ValidYears: number(t, "years", 0, 10), Yearly: maybeText(t, "yearly")}
	},
	rules.KindNotice: func(t *rapid.T) rules.Effect {
		n := rules.Notice{To: text(t, "to"), MinDays: number(t, "days", 0, 100), Within: length(t, "within", 0), RainDates: number(t, "rain dates", 0, 3)}
		n.MaxDays = n.MinDays + number(t, "more days", 0, 100)
		n.By, n.Languages = maybeText(t, "by"), names(t, "languages")
		return n
	},
	rules.KindPosting: func(t *rapid.T) rules.Effect {
		return rules.Posting{
			Says: text(t, "sign"), Every: length(t, "every", 0), EarliestHours: number(t, "hours", 0, 100), RemoveWithinDays: number(t, "remove", 0, 100),
			Width: length(t, "width", 0), Height: length(t, "height", 0), Until: maybeText(t, "until"),
		}
	},
	rules.KindWeather: func(t *rapid.T) rules.Effect {
		w := rules.WeatherLimit{Factor: word[rules.WeatherFactor](t, "factor"), HasMin: rapid.Bool().Draw(t, "has min")}
		if w.HasMin {
			w.Min = rapid.Float64Range(0, 0.5).Draw(t, "min")
		}
		if w.HasMax = !w.HasMin || rapid.Bool().Draw(t, "has max"); w.HasMax {
			w.Max = rapid.Float64Range(0.5, 1).Draw(t, "max")
		}
		if w.Statistic = maybe[rules.Statistic](t, "statistic"); w.Statistic > rules.Reading {
			w.OverMinutes = number(t, "minutes", 0, 60)
		}
		return w
	},
	rules.KindRecord: func(t *rapid.T) rules.Effect {
		r := rules.Record{Fields: []string{text(t, "field"), text(t, "field")}, WithinDays: number(t, "within", 0, 100), KeepYears: number(t, "years", 0, 10)}
		if r.WithinDays == 0 {
			r.WithinHours = number(t, "within hours", 0, 100)
		}
		return r
	},
	rules.KindEntryInterval: func(t *rapid.T) rules.Effect { return rules.EntryInterval{Hours: number(t, "hours", 1, 100)} },
	rules.KindExclusionZone: func(t *rapid.T) rules.Effect { return rules.ExclusionZone{Radius: length(t, "radius", 0)} },
	rules.KindWarn:          func(t *rapid.T) rules.Effect { return rules.Warn{Message: text(t, "message")} },
}
