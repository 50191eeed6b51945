package ruletest

import (
	"fmt"
	"strings"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulecoverage"
)

// untested lists what the worked cases do not show, each with the case to add in Go.
func untested(s *rules.Set) []string {
	var gaps []string
	for _, g := range rulecoverage.Missing(s) {
		gaps = append(gaps, g.String()+inGo(&g))
	}
	return gaps
}

// inGo gives the case to add, ready to be pasted into a list of cases where the case
// that it is like is called base.
func inGo(g *rulecoverage.Gap) string {
	switch {
	case g.Forbidden:
		return fmt.Sprintf(" with rulesdk.Forbidden(%q)", g.Row)
	case g.Add == nil:
		return ""
	}
	expected := []string{identifier[g.Add.Want]}
	for _, row := range g.Add.By {
		expected = append(expected, fmt.Sprintf("%q", row))
	}
	return fmt.Sprintf(":\n\trulesdk.Case(base, %q, %s, rulesdk.Gives(%s)),",
		g.Add.Name, strings.Join(changes(g.Like, g.Add), ", "), strings.Join(expected, ", "))
}

var identifier = map[rules.Decision]string{
	rules.Allowed: "rules.Allowed", rules.Conditional: "rules.Conditional",
	rules.Undetermined: "rules.Undetermined", rules.Prohibited: "rules.Prohibited",
}

// changes are those of a rulesdk.Case that make one case the other, of the facts in
// which limits lie.
func changes(from, to *rules.Case) []string {
	var code []string
	if from.On != to.On {
		y, m, day := to.On.Parts()
		code = append(code, fmt.Sprintf("rulesdk.On(%d, time.%s, %d)", y, time.Month(m), day))
	}
	code = append(code, treatmentChanges(&from.Treatment, &to.Treatment)...)
	return append(code, siteChanges(&from.Site, &to.Site)...)
}

func treatmentChanges(from, to *rules.Treatment) []string {
	var code []string
	set := func(field, value string) {
		code = append(code, fmt.Sprintf("rulesdk.With(func(t *rules.Treatment) { t.%s = %s })", field, value))
	}
	if from.Standing != to.Standing {
		set("Standing", "rules."+camel(to.Standing.String()))
	}
	if from.ReleaseHeight != to.ReleaseHeight {
		set("ReleaseHeight", digits(int64(to.ReleaseHeight)))
	}
	if from.CarrierMlPerHa != to.CarrierMlPerHa {
		set("CarrierMlPerHa", digits(to.CarrierMlPerHa))
	}
	if from.DosePermille != to.DosePermille {
		set("DosePermille", digits(to.DosePermille))
	}
	return code
}

func siteChanges(from, to *rules.Surroundings) []string {
	var code []string
	for _, c := range rules.Words[rules.WaterClass]() {
		if d, known := to.Water.Get(c); known && differs(from.Water.Get, c, d) {
			code = append(code, fmt.Sprintf("rulesdk.Water(rules.%s, %s, rules.%s)", camel(c.String()), digits(int64(d.Distance)), camel(d.Origin.String())))
		}
	}
	for _, c := range rules.Words[rules.PlaceClass]() {
		if d, known := to.Places.Get(c); known && differs(from.Places.Get, c, d) {
			code = append(code, fmt.Sprintf("rulesdk.Place(rules.%s, %s)", camel(c.String()), digits(int64(d.Distance))))
		}
	}
	for _, q := range rules.Words[rules.Measure]() {
		if v, known := to.Measures.Get(q); known && differs(from.Measures.Get, q, v) {
			code = append(code, fmt.Sprintf("rulesdk.Measure(rules.%s, %s)", measureNames[q], digits(v)))
		}
	}
	return code
}

// differs reports whether another value, or none, is known.
func differs[K any, V comparable](get func(K) (V, bool), of K, v V) bool {
	got, known := get(of)
	return !known || got != v
}

var measureNames = map[rules.Measure]string{
	rules.Diameter: "Diameter", rules.Height: "Height", rules.Slope: "Slope", rules.StemDensity: "StemDensity",
	rules.TreatedArea: "TreatedArea", rules.LakeArea: "LakeArea",
}

// camel gives the Go name of a word: perennial_stream is PerennialStream.
func camel(word string) string {
	var name strings.Builder
	for _, part := range strings.Split(word, "_") {
		name.WriteString(strings.ToUpper(part[:1]) + part[1:])
	}
	return name.String()
}

// digits writes a number as Go does: 30_479_999.
func digits(v int64) string {
	text := fmt.Sprint(v)
	for i := len(text) - 3; i > 0 && text[i-1] != '-'; i -= 3 {
		text = text[:i] + "_" + text[i:]
	}
	return text
}
