package rules_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

const thirty = 30 * quantity.Metre

func wellBuffer(change func(*rules.Buffer)) rules.Row {
	b := rules.Buffer{Water: rules.AnyOf(rules.Well), Distance: thirty, From: rules.WaterEdge}
	change(&b)
	return row("well", b)
}

func atWell(d rules.WaterDistance) rules.Surroundings {
	if d.Origin == 0 {
		d.Origin = rules.WaterEdge
	}
	var s rules.Surroundings
	s.Water.Set(rules.Well, d)
	return s
}

// Each thing that changes a buffer, at its boundaries.
func TestWhatChangesABuffer(t *testing.T) {
	plain := func(*rules.Buffer) {}
	wet := func(b *rules.Buffer) { b.WhileWet = true }
	slope := func(b *rules.Buffer) { b.Along = rules.AlongSlope }
	reduced := func(b *rules.Buffer) {
		b.Reduction = rules.Reduction{Distance: 10 * quantity.Metre, Evidence: "a survey", DecidedBy: "the district", RecordField: "reduction"}
	}
	mixing := func(b *rules.Buffer) { b.Activity = rules.MixAndLoad }
	granted := rules.Treatment{Granted: []string{"nation/other", "nation/well"}}
	const (
		yes, maybe, no, provided = rules.Allowed, rules.Undetermined, rules.Prohibited, rules.Conditional
	)
	cases := []struct {
		name      string
		change    func(*rules.Buffer)
		treatment rules.Treatment
		at        rules.WaterDistance
		want      rules.Decision
	}{
		{"dry, of no account", plain, rules.Treatment{}, rules.WaterDistance{Distance: 0, State: rules.WaterDry}, no},
		{"while wet: dry", wet, rules.Treatment{}, rules.WaterDistance{Distance: 0, State: rules.WaterDry}, yes},
		{"while wet: wet", wet, rules.Treatment{}, rules.WaterDistance{Distance: thirty - 1, State: rules.WaterWet}, no},
		{"while wet: not known counts as wet", wet, rules.Treatment{}, rules.WaterDistance{Distance: thirty - 1}, no},
		{"while wet: wet, at the distance", wet, rules.Treatment{}, rules.WaterDistance{Distance: thirty, State: rules.WaterWet}, yes},
		{"while wet: dry, measured from who knows where", wet, rules.Treatment{}, rules.WaterDistance{Origin: 9, State: rules.WaterDry}, yes},

		{"along the slope: at the distance", slope, rules.Treatment{}, rules.WaterDistance{Distance: thirty}, yes},
		{"along the slope: within it", slope, rules.Treatment{}, rules.WaterDistance{Distance: thirty - 1}, maybe},
		{"along the slope: in the water", slope, rules.Treatment{}, rules.WaterDistance{Distance: 0}, no},
		{"along the slope: at least some way off", slope, rules.Treatment{}, rules.WaterDistance{Distance: 0, AtLeast: true}, maybe},

		{"reducible, not granted", reduced, rules.Treatment{}, rules.WaterDistance{Distance: thirty - 1}, no},
		{"reducible, another granted", reduced, rules.Treatment{Granted: []string{"nation/wells", "state/well"}}, rules.WaterDistance{Distance: thirty - 1}, no},
		{"granted, at the whole distance", reduced, granted, rules.WaterDistance{Distance: thirty}, yes},
		{"granted, within the whole distance", reduced, granted, rules.WaterDistance{Distance: thirty - 1}, provided},
		{"granted, at the shorter", reduced, granted, rules.WaterDistance{Distance: 10 * quantity.Metre}, provided},
		{"granted, within the shorter", reduced, granted, rules.WaterDistance{Distance: 10*quantity.Metre - 1}, no},
		{"granted, at least the shorter", reduced, granted, rules.WaterDistance{Distance: 10 * quantity.Metre, AtLeast: true}, provided},
		{"granted, at least less", reduced, granted, rules.WaterDistance{Distance: 10*quantity.Metre - 1, AtLeast: true}, maybe},
		{"granted, though it cannot be reduced", plain, granted, rules.WaterDistance{Distance: thirty - 1}, no},

		{"mixing, beside the water", mixing, rules.Treatment{}, rules.WaterDistance{Distance: 0}, provided},
		{"mixing, far from the water", mixing, rules.Treatment{}, rules.WaterDistance{Distance: thirty}, provided},
		{"mixing nothing", mixing, rules.Treatment{NoHerbicide: true}, rules.WaterDistance{Distance: 0}, yes},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, decide(t, c.treatment, atWell(c.at), wellBuffer(c.change)))
		})
	}
	assert.Equal(t, maybe, decide(t, granted, rules.Surroundings{}, wellBuffer(reduced)), "a grant measures nothing")
	assert.Equal(t, maybe, decide(t, rules.Treatment{}, rules.Surroundings{}, wellBuffer(wet)), "water nobody knows of is not dry")
	findings := narrow(t, rules.Treatment{}, wellBuffer(func(b *rules.Buffer) { b.WhileWet, b.Along = true, rules.AlongSlope })).Explain(&rules.Surroundings{})
	assert.Equal(t, []string{"distance to well along the slope from the water edge, or that it is dry"}, findings[0].Missing)
}

// An intake whose category nobody stated may be of any; a rule about intakes is about
// those of every category.
func TestIntakesByCategory(t *testing.T) {
	const near, far = 29 * quantity.Metre, thirty
	type at = map[rules.WaterClass]quantity.Micrometres
	cases := []struct {
		name             string
		at               at
		others           bool // no other water within 100 m
		first, anyIntake rules.Decision
	}{
		{"the first near", at{rules.IntakeCategory1: near}, true, rules.Prohibited, rules.Prohibited},
		{"the first far", at{rules.IntakeCategory1: far}, true, rules.Allowed, rules.Allowed},
		{"the second near", at{rules.IntakeCategory2: near}, true, rules.Allowed, rules.Prohibited},
		{"one of no stated category near", at{rules.Intake: near}, true, rules.Undetermined, rules.Prohibited},
		{"one of no stated category far", at{rules.Intake: far}, true, rules.Allowed, rules.Allowed},
		{"the first far, nothing else known", at{rules.IntakeCategory1: far}, false, rules.Allowed, rules.Undetermined},
		{"the second near, nothing else known", at{rules.IntakeCategory2: near}, false, rules.Undetermined, rules.Prohibited},
		{"one of no stated category far, nothing else known", at{rules.Intake: far}, false, rules.Undetermined, rules.Allowed},
		{"the first far, one of no stated category near", at{rules.IntakeCategory1: far, rules.Intake: near}, true, rules.Allowed, rules.Prohibited},
		{"the first near, one of no stated category far", at{rules.IntakeCategory1: near, rules.Intake: far}, true, rules.Prohibited, rules.Prohibited},
		{"nothing known", nil, false, rules.Undetermined, rules.Undetermined},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var site rules.Surroundings
			for class, d := range c.at {
				site.Water.Set(class, rules.WaterDistance{Distance: d, Origin: rules.WaterEdge})
			}
			if c.others {
				site.Water.SetOthers(100 * quantity.Metre)
			}
			buffer := func(class rules.WaterClass) rules.Row {
				return row("row", rules.Buffer{Water: rules.AnyOf(class), Distance: thirty, From: rules.WaterEdge})
			}
			assert.Equal(t, c.first, decide(t, rules.Treatment{}, site, buffer(rules.IntakeCategory1)), "a rule about the first category")
			assert.Equal(t, c.anyIntake, decide(t, rules.Treatment{}, site, buffer(rules.Intake)), "a rule about intakes")
		})
	}
}

// That there is none of a category within a distance says nothing while it is not known
// whether there is one of no stated category.
func TestAtLeastIsNotEnoughForACategory(t *testing.T) {
	r := row("row", rules.Buffer{Water: rules.AnyOf(rules.IntakeCategory1), Distance: thirty, From: rules.WaterEdge})
	var site rules.Surroundings
	site.Water.Set(rules.IntakeCategory1, rules.WaterDistance{Distance: 100 * quantity.Metre, Origin: rules.BankTop, AtLeast: true})
	assert.Equal(t, rules.Undetermined, decide(t, rules.Treatment{}, site, r))
	site.Water.Set(rules.Intake, rules.WaterDistance{Distance: thirty, Origin: rules.WaterEdge})
	assert.Equal(t, rules.Allowed, decide(t, rules.Treatment{}, site, r))
}

func TestSetbacks(t *testing.T) {
	const limit = 3 * quantity.Metre
	allDay := rules.Setback{Places: rules.AnyOf(rules.School, rules.Childcare), Distance: limit}
	inHours := allDay
	inHours.Hours = rules.ClockHours{From: 420, To: 1080}
	far := rules.PlaceDistance{Distance: limit}
	type at = map[rules.PlaceClass]rules.PlaceDistance
	cases := []struct {
		name           string
		at             at
		allDay, inHour rules.Decision
		missing        []string
	}{
		{"inside", at{rules.School: {}, rules.Childcare: far}, rules.Prohibited, rules.Conditional, nil},
		{"just within", at{rules.School: {Distance: limit - 1}, rules.Childcare: far}, rules.Prohibited, rules.Conditional, nil},
		{"at the distance", at{rules.School: far, rules.Childcare: far}, rules.Allowed, rules.Allowed, nil},
		{"at least the distance", at{rules.School: {Distance: limit, AtLeast: true}, rules.Childcare: far}, rules.Allowed, rules.Allowed, nil},
		{"at least less", at{rules.School: {Distance: limit - 1, AtLeast: true}, rules.Childcare: far}, rules.Undetermined, rules.Undetermined, []string{"distance to school"}},
		{"one within, one not known", at{rules.School: {}}, rules.Prohibited, rules.Undetermined, []string{"distance to childcare"}},
		{"none known", nil, rules.Undetermined, rules.Undetermined, []string{"distance to school", "distance to childcare"}},
		{"another place", at{rules.School: far, rules.Childcare: far, rules.Apiary: {}}, rules.Allowed, rules.Allowed, nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var site rules.Surroundings
			for class, d := range c.at {
				site.Places.Set(class, d)
			}
			assert.Equal(t, c.allDay, decide(t, rules.Treatment{}, site, row("row", allDay)), "all day")
			n := narrow(t, rules.Treatment{}, row("row", inHours))
			assert.Equal(t, c.inHour, n.Decide(&site), "in hours")
			assert.Equal(t, c.missing, n.Explain(&site)[0].Missing)
		})
	}
}

func TestCategoriesOfCertification(t *testing.T) {
	asked := rules.RequireStanding{AtLeast: rules.Supervised, Categories: rules.AnyOf(rules.CertifiedForest, rules.CertifiedAquatic)}
	crew := asked
	crew.MaxSupervised = 8
	forest, turf := rules.AnyOf(rules.CertifiedForest, rules.CertifiedOrnamental), rules.AnyOf(rules.CertifiedOrnamental)
	cases := []struct {
		name       string
		standing   rules.Standing
		categories rules.OneOf[rules.CertificationCategory]
		want       rules.Decision
		missing    []string
	}{
		{"one fits", rules.Certified, forest, rules.Allowed, nil},
		{"none fits", rules.Certified, turf, rules.Prohibited, nil},
		{"not stated", rules.Certified, 0, rules.Undetermined, []string{"categories of the applicator's certification"}},
		{"one fits, standing not stated", 0, forest, rules.Undetermined, []string{"standing of the applicator"}},
		{"one fits, standing too low", rules.Unlicensed, forest, rules.Prohibited, nil},
		{"none fits, standing not stated", 0, turf, rules.Prohibited, nil},
		{"nothing stated", 0, 0, rules.Undetermined, []string{"standing of the applicator", "categories of the applicator's certification"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			treatment := rules.Treatment{Standing: c.standing, Categories: c.categories}
			n := narrow(t, treatment, row("row", asked))
			assert.Equal(t, c.want, n.Decide(&rules.Surroundings{}))
			assert.Equal(t, c.missing, n.Explain(&rules.Surroundings{})[0].Missing)
			assert.Equal(t, rules.Stricter(c.want, rules.Conditional), decide(t, treatment, rules.Surroundings{}, row("row", crew)), "with a limit to the crew")
		})
	}
}

func TestPlacesAsJSON(t *testing.T) {
	var p rules.Places
	empty, err := json.Marshal(p)
	require.NoError(t, err)
	assert.JSONEq(t, `{}`, string(empty))
	p.Set(rules.School, rules.PlaceDistance{Distance: 1, AtLeast: true})
	p.Set(rules.School, rules.PlaceDistance{Distance: 25})
	p.SetOthers(90)
	text, err := json.Marshal(p)
	require.NoError(t, err)
	assert.Contains(t, string(text), `"school":{"um":25,"at_least":false}`)
	for _, c := range rules.Words[rules.PlaceClass]() {
		d, known := p.Get(c)
		assert.True(t, known)
		if c != rules.School {
			assert.Equal(t, rules.PlaceDistance{Distance: 90, AtLeast: true}, d)
		}
	}
}

// What a site can be granted is what buffers of its law offer.
func TestReductionsOfALaw(t *testing.T) {
	reduction := rules.Reduction{Distance: 10 * quantity.Metre, Evidence: "a survey", DecidedBy: "the district", RecordField: "reduction"}
	reduced := wellBuffer(func(b *rules.Buffer) { b.Reduction = reduction })
	other := wellBuffer(func(b *rules.Buffer) { b.Reduction = reduction })
	other.ID = "another"
	plain := wellBuffer(func(*rules.Buffer) {})
	plain.ID = "plain"
	set := setOf(t, "nation", rules.Federal, "us", reduced, plain, other, row("ban", rules.Prohibit{}))
	assert.Equal(t, []string{"nation/another", "nation/well"}, rules.Govern("us", midsummer, []*rules.Set{set}).Reductions())
	none := setOf(t, "nation", rules.Federal, "us", plain)
	assert.Equal(t, []string{}, rules.Govern("us", midsummer, []*rules.Set{none}).Reductions())
}
