package checks_test

import (
	"time"

	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/treatment"
)

// dates is what windows and plans make of the calendar.
var dates = map[string]func(*input) answer{
	"window_holds": func(in *input) answer {
		law := oneRow(in, in.date("date"), rules.Window{Open: in.window()})
		return either(law.Narrow(rules.Treatment{}).Decide(&rules.Surroundings{}) == rules.Allowed, "yes", "no")
	},
	"window_next_opening": func(in *input) answer {
		law := oneRow(in, in.date("date"), allYearInLeaf, rules.Window{Open: in.window()})
		_, e := planned(in, shipped(in.t), law, standing(3, 20))
		return word(e.Dates.TreatFrom.String())
	},
	"felling_wait": func(in *input) answer {
		return either(in.date("felled") >= fellFrom(in), "allow", "block")
	},
	"earliest_felling": func(in *input) answer { return word(fellFrom(in).String()) },
	"earliest_felling_in_window": func(in *input) answer {
		next, ok := civil.Next(fellFrom(in), []civil.Window{in.window()})
		require.True(in.t, ok)
		return word(next.String())
	},
}

var (
	allYear       = civil.Window{From: civil.DayOfYear{Month: time.January, Day: 1}, To: civil.DayOfYear{Month: time.December, Day: 31}}
	allYearInLeaf = rules.InSeason{Season: rules.Growing, During: allYear}
	allYearOpen   = rules.Window{Open: allYear}
)

// window reads from and to, each MM-DD.
func (in *input) window() civil.Window {
	day := func(key string) civil.DayOfYear {
		d, err := civil.Parse("2028-" + in.text(key)) // a leap year
		require.NoError(in.t, err)
		return d.DayOfYear()
	}
	return civil.Window{From: day("from"), To: day("to")}
}

// fellFrom is the first day on which a plan lets a stem be felled that is treated
// on the row's day. The wait is the program's own, and has to be the row's.
func fellFrom(in *input) civil.Date {
	treated := in.date("treated")
	plan, e := planned(in, shipped(in.t), oneRow(in, treated, allYearInLeaf, allYearOpen), standing(3, 20))
	require.Equal(in.t, treatment.Prescribed, plan.Outcome)
	require.Equal(in.t, treated, e.Dates.TreatFrom)
	require.Equal(in.t, int(in.number("wait_days")), int(e.Dates.FellFrom-treated))
	return e.Dates.FellFrom
}
