package rules_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
)

// A prohibition of spraying on grazed pasture, except from approved equipment on dry
// soil, and except in a low share of the dose.
func TestExceptions(t *testing.T) {
	ban := when("ban", rules.Selector{LandUses: rules.AnyOf(rules.GrazedPasture)}, rules.Prohibit{})
	ban.Unless = []rules.Selector{
		{DriftControl: rules.AnyOf(rules.DriftApproved), Soil: rules.AnyOf(rules.SoilDry)},
		{Ranges: []rules.Range{rules.AtMost(rules.Dose, 500)}},
	}
	const (
		yes, no, open = rules.Allowed, rules.Prohibited, rules.Undetermined
	)
	cases := []struct {
		name    string
		drift   rules.DriftControl
		soil    rules.SoilState
		dose    int64
		want    rules.Decision
		missing []string
	}{
		{"neither exception", rules.DriftStandard, rules.SoilDry, 501, no, nil},
		{"approved, on dry soil", rules.DriftApproved, rules.SoilDry, 501, yes, nil},
		{"approved, on wet soil", rules.DriftApproved, rules.SoilWet, 501, no, nil},
		{"approved, soil not known", rules.DriftApproved, 0, 501, open, []string{"soil state"}},
		{"not known whether approved, on dry soil", 0, rules.SoilDry, 501, open, []string{"drift control"}},
		{"not known whether approved, on wet soil", 0, rules.SoilWet, 501, no, nil},
		{"at the dose", rules.DriftStandard, rules.SoilWet, 500, yes, nil},
		{"at the dose, and nothing else known", 0, 0, 500, yes, nil},
		{"dose not known", rules.DriftStandard, rules.SoilDry, 0, open, []string{"share of the greatest dose"}},
		{"dose not known, the other fits", rules.DriftApproved, rules.SoilDry, 0, yes, nil},
		{"nothing known", 0, 0, 0, open, []string{"drift control", "soil state", "share of the greatest dose"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			treatment := rules.Treatment{LandUse: rules.GrazedPasture, DriftControl: c.drift, DosePermille: c.dose}
			site := rules.Surroundings{Soil: c.soil}
			n := narrow(t, treatment, ban)
			assert.Equal(t, c.want, n.Decide(&site))
			assert.Equal(t, c.want, n.Judge(&site).Decision)
			if c.want == yes {
				assert.Empty(t, n.Explain(&site), "it does not apply")
				return
			}
			findings := n.Explain(&site)
			require.Len(t, findings, 1)
			assert.Equal(t, c.missing, findings[0].Missing)
			assert.Equal(t, c.want == no, findings[0].Certain)
		})
	}
	assert.Equal(t, "forbidden; not for drift control approved with soil dry; not for dose_permille <= 500", ban.Text())
	assert.Equal(t, rules.Allowed, decide(t, rules.Treatment{LandUse: rules.Forest}, rules.Surroundings{}, ban), "on other ground there is nothing to except")
	assert.Equal(t, rules.Undetermined, decide(t, rules.Treatment{DosePermille: 501, DriftControl: rules.DriftStandard}, rules.Surroundings{}, ban))
}

// What is applied cannot be excepted for what it is where nothing is applied.
func TestNothingAppliedFitsNoExceptionOfAProduct(t *testing.T) {
	ban := row("ban", rules.Prohibit{})
	ban.Unless = []rules.Selector{{Ranges: []rules.Range{rules.AtMost(rules.Carrier, 100)}}}
	assert.Equal(t, rules.Prohibited, decide(t, rules.Treatment{NoHerbicide: true}, rules.Surroundings{}, ban))
	assert.Equal(t, rules.Allowed, decide(t, rules.Treatment{CarrierMlPerHa: 100}, rules.Surroundings{}, ban))
	assert.Equal(t, rules.Prohibited, decide(t, rules.Treatment{CarrierMlPerHa: 101}, rules.Surroundings{}, ban))
}

// An exception never permits one of whom nothing is known, never adds a restriction,
// and never counts unless it is known to fit.
func TestExceptionsLoosenNothingUnknown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bare := drawRow(t, "row")
		bare.ValidFrom, bare.ValidTo, bare.Unless = lawFrom, 0, nil
		excepted := bare
		excepted.Unless = []rules.Selector{drawException(t), drawException(t)}
		treatment, site := drawStem(t)
		decide := func(r rules.Row, treatment rules.Treatment, site rules.Surroundings) rules.Decision {
			return narrowOn(t, midsummer, treatment, r).Decide(&site)
		}
		with, without := decide(excepted, treatment, site), decide(bare, treatment, site)
		assert.LessOrEqual(t, with, without)
		if without >= rules.Undetermined && with < rules.Undetermined {
			alone := func(s rules.Selector) rules.Decision {
				return decide(when("row", s, rules.Prohibit{}), treatment, site)
			}
			assert.True(t, alone(excepted.Unless[0]) == rules.Prohibited || alone(excepted.Unless[1]) == rules.Prohibited, "no exception is known to fit")
		}
		if nothing := decide(bare, rules.Treatment{}, rules.Surroundings{}); nothing >= rules.Undetermined {
			assert.GreaterOrEqual(t, decide(excepted, rules.Treatment{}, rules.Surroundings{}), rules.Undetermined)
		}
	})
}
