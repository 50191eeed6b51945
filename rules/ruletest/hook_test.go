package ruletest_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/ruletest"
)

// computedTable has one row that needs the elevation.
func computedTable() rules.Table {
	t := table()
	t.Rows = t.Rows[:1]
	t.Rows[0].ID = "by-height"
	t.Rows[0].Effect = rules.Computed{Method: "a method for tests", Needs: rules.AnyOf(rules.FactElevation)}
	return t
}

type evaluate func(ctx context.Context, row string, on civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error)

// eachSite answers for each site by itself.
func eachSite(answer func(i int, s rules.SiteFacts) rules.Answer) evaluate {
	return func(_ context.Context, _ string, _ civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error) {
		answers := make([]rules.Answer, len(sites))
		for i, s := range sites {
			answers[i] = answer(i, s)
		}
		return answers, nil
	}
}

func byHeight(_ int, s rules.SiteFacts) rules.Answer {
	switch {
	case !s.HasElevation:
		return rules.Answer{Kind: rules.FactMissing, Words: "elevation"}
	case s.Elevation > 1_000*quantity.Metre:
		return rules.Answer{Kind: rules.Closed, Words: "high"}
	}
	return rules.Answer{Kind: rules.OpenDuring, Open: summer, Words: "low"}
}

func high(metres int) rules.SiteFacts {
	return rules.SiteFacts{HasElevation: true, Elevation: quantity.Micrometres(metres) * quantity.Metre}
}

func TestWhatIsWrongWithAHookIsFound(t *testing.T) {
	calls := 0
	cases := []struct {
		name     string
		evaluate evaluate
		want     string // empty where nothing is wrong
	}{
		{"sound", eachSite(byHeight), ""},
		{"counts its calls", func(ctx context.Context, row string, on civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error) {
			calls++
			answers, err := eachSite(byHeight)(ctx, row, on, sites)
			if calls%2 == 0 && len(answers) > 1 {
				answers[0].Words = "often asked"
			}
			return answers, err
		}, "not the same when asked twice"},
		{"goes by the order", eachSite(func(i int, s rules.SiteFacts) rules.Answer {
			a := byHeight(i, s)
			if i == 0 && s.HasElevation {
				a.Words = "the first"
			}
			return a
		}), "depends on the order of the sites"},
		{"goes by what else there is", func(ctx context.Context, row string, on civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error) {
			answers, err := eachSite(byHeight)(ctx, row, on, sites)
			if len(sites) > 2 && sites[0] == sites[2] {
				answers[2].Words = "as before"
			}
			return answers, err
		}, "equal sites get different answers"},
		{"takes what is missing for zero", eachSite(func(i int, s rules.SiteFacts) rules.Answer {
			s.HasElevation = true
			return byHeight(i, s)
		}), "what is not known is never decided"},
		{"closes what it does not know", eachSite(func(i int, s rules.SiteFacts) rules.Answer {
			if !s.HasElevation {
				return rules.Answer{Kind: rules.Closed, Words: "better safe than sorry"}
			}
			return byHeight(i, s)
		}), "what is not known is never decided"},
		{"says nothing", eachSite(func(i int, s rules.SiteFacts) rules.Answer {
			a := byHeight(i, s)
			a.Words = ""
			return a
		}), "words: has 0 bytes"},
		{"opens on no day", eachSite(func(int, rules.SiteFacts) rules.Answer { return rules.Answer{Kind: rules.OpenDuring, Words: "always"} }), "no days of a year"},
		{"panics", eachSite(func(int, rules.SiteFacts) rules.Answer { panic("no map of it") }), "panicked: no map of it"},
		{"takes its time", func(ctx context.Context, row string, on civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error) {
			if len(sites) > 1_000 {
				<-ctx.Done()
				return nil, ctx.Err()
			}
			return eachSite(byHeight)(ctx, row, on, sites)
		}, "a host waits 2s"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			found := ruletest.Found(func(t ruletest.T) {
				ruletest.CheckHook(t, rulesdk.Plugin{Table: computedTable, Evaluate: c.evaluate}, high(500), high(1_500))
			})
			if c.want == "" {
				assert.Empty(t, found)
				return
			}
			assert.Contains(t, strings.Join(found, "\n"), c.want)
		})
	}
}

func TestWhatCannotBeChecked(t *testing.T) {
	sound := rulesdk.Plugin{Table: computedTable, Evaluate: eachSite(byHeight)}
	plain := rulesdk.Plugin{Table: func() rules.Table { return table() }, Evaluate: eachSite(byHeight)}
	for want, check := range map[string]func(t ruletest.T){
		"give sites to ask for":                 func(t ruletest.T) { ruletest.CheckHook(t, sound) },
		"site 0 lacks what row by-height needs": func(t ruletest.T) { ruletest.CheckHook(t, sound, rules.SiteFacts{}) },
		"the table has no computed row":         func(t ruletest.T) { ruletest.CheckHook(t, plain, high(500)) },
		"the table has no such computed row":    func(t ruletest.T) { ruletest.Answer(t, sound, "by-width", civil.Of(2026, time.July, 1), high(500)) },
	} {
		assert.Contains(t, strings.Join(ruletest.Found(check), "\n"), want)
	}
}

func TestAnswer(t *testing.T) {
	sound := rulesdk.Plugin{Table: computedTable, Evaluate: eachSite(byHeight)}
	a := ruletest.Answer(t, sound, "by-height", civil.Of(2026, time.July, 1), high(1_001))
	assert.Equal(t, rules.Answer{Kind: rules.Closed, Words: "high"}, a)
}
