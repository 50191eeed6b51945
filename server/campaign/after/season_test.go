package after_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/campaign/after"
)

// year tells seasons by windows, as a rule set does.
type year map[rules.Season][]civil.Window

func (y year) SeasonOn(day civil.Date, _ string) (rules.Season, bool) {
	for s, windows := range y {
		for _, w := range windows {
			if w.Holds(day) {
				return s, true
			}
		}
	}
	return 0, false
}

func TestLeafWindow(t *testing.T) {
	for _, c := range []struct {
		name  string
		rules year
		want  civil.Window
		known bool
	}{
		{"early and late summer", year{
			rules.Growing: {yearly(time.June, 1, time.July, 14)}, rules.Translocation: {yearly(time.July, 15, time.September, 30)},
			rules.Dormant: {yearly(time.November, 1, time.March, 31)},
		}, yearly(time.June, 1, time.September, 30), true},
		{"over the year's end", year{rules.Growing: {southern}}, southern, true},
		{"all year: no day begins it", year{rules.Growing: {yearly(time.January, 1, time.December, 31)}}, civil.Window{}, false},
		{"no rule tells", year{}, civil.Window{}, false},
		{"a hole in it", year{rules.Growing: {yearly(time.June, 1, time.June, 30), yearly(time.August, 1, time.August, 31)}}, civil.Window{}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, known := after.LeafWindow(c.rules, "Ailanthus altissima", 2027)
			assert.Equal(t, c.known, known)
			if known {
				assert.Equal(t, c.want, got)
			}
		})
	}
}

func TestSeasons(t *testing.T) {
	list := after.Seasons(southern, day(t, "2026-11-16"), day(t, "2028-11-15"))
	require.Len(t, list, 2)
	assert.Equal(t, after.GrowingSeason{From: day(t, "2027-11-15"), Until: day(t, "2028-03-15")}, list[0])
	assert.Equal(t, "2027/28", list[0].String())
	list = after.Seasons(summer, day(t, "2026-06-01"), day(t, "2027-06-01"))
	require.Len(t, list, 2)
	assert.Equal(t, "2026", list[0].String())
	assert.True(t, list[0].Holds(day(t, "2026-08-31")))
	assert.False(t, list[0].Holds(day(t, "2026-09-01")))
	assert.Empty(t, after.Seasons(civil.Window{}, day(t, "2026-06-01"), day(t, "2027-06-01")))
	assert.Empty(t, after.Seasons(summer, 0, day(t, "2027-06-01")))
	assert.Empty(t, after.Seasons(summer, day(t, "9999-06-02"), day(t, "9999-12-31")), "time ends")
}

// G: the next June to August, and again two to five years later (judgement from several
// sources).
func TestLookAgain(t *testing.T) {
	from, until, ok := after.LookAgain(summer, day(t, "2026-08-10"))
	assert.True(t, ok)
	assert.Equal(t, "2028", from.String())
	assert.Equal(t, "2031", until.String())
	_, _, ok = after.LookAgain(civil.Window{}, day(t, "2026-08-10"))
	assert.False(t, ok)
}
