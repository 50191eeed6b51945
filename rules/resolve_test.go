package rules_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

var degreeDays = rules.Computed{Method: "degree days", Needs: rules.AnyOf(rules.FactPosition, rules.FactTemperatures)}

// Each answer to a computed row: what is then decided, what a planner is told and
// what people read.
func TestAnswers(t *testing.T) {
	july := window(time.July, 1, time.July, 31)
	cases := []struct {
		name      string
		answer    *rules.Answer
		want      rules.Decision
		otherwise rules.Decision
		windows   []civil.Window
		text      string
		missing   []string
	}{
		{"none", nil, rules.Undetermined, rules.Undetermined, nil, "for the place, from its position, temperatures",
			[]string{"degree days of the place, which needs its position, temperatures"}},
		{"a fact is missing", &rules.Answer{Kind: rules.FactMissing, Words: "no temperatures of April"}, rules.Undetermined, rules.Undetermined, nil,
			": not computed here (no temperatures of April)", []string{"no temperatures of April"}},
		{"open", &rules.Answer{Kind: rules.OpenDuring, Open: july, Words: "300 degree days"}, rules.Allowed, rules.Allowed, []civil.Window{july},
			": here from 1 July to 31 July (300 degree days)", nil},
		{"open at another time", &rules.Answer{Kind: rules.OpenDuring, Open: window(time.July, 21, time.July, 31)}, rules.Prohibited, rules.Allowed,
			[]civil.Window{window(time.July, 21, time.July, 31)}, ": here from 21 July to 31 July", nil},
		{"open at no time there is", &rules.Answer{Kind: rules.OpenDuring}, rules.Undetermined, rules.Undetermined, nil, ": not computed here",
			[]string{"degree days of the place, which needs its position, temperatures"}},
		{"closed", &rules.Answer{Kind: rules.Closed}, rules.Prohibited, rules.Prohibited, nil, ": closed here all year", nil},
		{"not restricted", &rules.Answer{Kind: rules.NotRestricted}, rules.Allowed, rules.Allowed, nil, ": not restricted here", nil},
		{"nothing", &rules.Answer{}, rules.Undetermined, rules.Undetermined, nil, ": not computed here",
			[]string{"degree days of the place, which needs its position, temperatures"}},
		{"nobody knows what", &rules.Answer{Kind: 9, Open: july}, rules.Undetermined, rules.Undetermined, nil, ": not computed here",
			[]string{"degree days of the place, which needs its position, temperatures"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			base := rules.Govern("us", midsummer, []*rules.Set{mustSet(t, validTable(row("season", degreeDays)))})
			g := base
			if c.answer != nil {
				g = base.Resolve(map[*rules.Row]rules.Answer{base.Computed()[0].Row: *c.answer})
			}
			n := g.Narrow(rules.Treatment{})
			judgement := n.Judge(&rules.Surroundings{})
			assert.Equal(t, c.want, n.Decide(&rules.Surroundings{}))
			assert.Equal(t, c.want, judgement.Decision)
			assert.Equal(t, c.otherwise, judgement.Otherwise)
			assert.Equal(t, c.windows, n.Windows(&rules.Surroundings{}))
			assert.Equal(t, len(c.windows) > 0, n.HasWindow())
			findings := n.Explain(&rules.Surroundings{})
			require.Len(t, findings, 1)
			assert.Contains(t, findings[0].Text(), c.text)
			assert.Equal(t, c.missing, findings[0].Missing)
			assert.Equal(t, rules.Undetermined, base.Narrow(rules.Treatment{}).Decide(&rules.Surroundings{}), "the law that was resolved stays as it was")
		})
	}
}

// An answer within a part of the year holds there alone.
func TestAnAnswerInAPartOfTheYear(t *testing.T) {
	r := row("season", degreeDays)
	r.During = window(time.May, 1, time.September, 30)
	g := rules.Govern("us", midsummer, []*rules.Set{mustSet(t, validTable(r))})
	answer := rules.Answer{Kind: rules.OpenDuring, Open: window(time.June, 1, time.June, 30)}
	n := g.Resolve(map[*rules.Row]rules.Answer{g.Computed()[0].Row: answer}).Narrow(rules.Treatment{})
	assert.Equal(t, rules.Prohibited, n.Decide(&rules.Surroundings{}))
	assert.ElementsMatch(t, []civil.Window{window(time.June, 1, time.April, 30), window(time.October, 1, time.June, 30)}, n.Windows(&rules.Surroundings{}))
}

func TestComputedRowsAreListedByLayer(t *testing.T) {
	state := setOf(t, "velmora", rules.State, "us/velmora", row("b", degreeDays), row("ban", rules.Warn{Message: "take care"}), row("a", degreeDays))
	nation := setOf(t, "nation", rules.Federal, "us", row("c", degreeDays))
	var ids []string
	for _, c := range rules.Govern("us/velmora", midsummer, []*rules.Set{state, nation}).Computed() {
		ids = append(ids, c.Set.Ref.ID+"/"+c.Row.ID)
	}
	assert.Equal(t, []string{"nation/c", "velmora/a", "velmora/b"}, ids)
}

// No answer permits what the rest of the law does not, an answer to a row that is
// not computed is of no account, and no answer leaves the law as it was.
func TestAnswersPermitNothingElse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sets := drawSets(t)
		treatment, site := drawStem(t)
		g := rules.Govern(creek, midsummer, sets)
		answers, missing := map[*rules.Row]rules.Answer{}, map[*rules.Row]rules.Answer{}
		rest := rules.Allowed
		if len(g.Gaps) > 0 {
			rest = rules.Undetermined
		}
		for _, f := range g.Narrow(treatment).Explain(&site) {
			answers[f.Row] = drawAnswer(t)
			missing[f.Row] = rules.Answer{Kind: rules.FactMissing}
			if f.Row.Effect.Kind() != rules.KindComputed {
				rest = rules.Stricter(rest, f.Decision)
			}
		}
		unresolved := g.Narrow(treatment).Decide(&site)
		assert.GreaterOrEqual(t, g.Resolve(answers).Narrow(treatment).Decide(&site), rest)
		assert.Equal(t, unresolved, g.Resolve(missing).Narrow(treatment).Decide(&site))
		assert.Equal(t, unresolved, g.Resolve(nil).Narrow(treatment).Decide(&site))
	})
}
