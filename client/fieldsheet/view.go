package fieldsheet

import (
	"fmt"
	"slices"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"

	"example.org/rootward/client"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/report"
	"example.org/rootward/client/wording"
)

// view is what the template shows.
type view struct {
	*Heading
	Date, Standing string
	Totals         *treatmentv1.Totals
	RuleSets       []ruleSet
	Conditions     []requirement
	Cautions       []caution
	Mixes          []mixCard
	Sites          []*site
	Faults         []string
}

// Always is what the sheet's frame says on its first page.
func (*view) Always() []string { return always }

var always = report.Always

// Places names the places of the sites, each once.
func (v *view) Places() string {
	var list []string
	seen := map[string]bool{}
	for _, s := range v.Result.Sites {
		if !seen[s.GetPlace()] {
			list = append(list, s.GetPlace())
		}
		seen[s.GetPlace()] = true
	}
	return joined(list)
}

type ruleSet struct {
	ID, Version, Layer, Digest string
}

func ruleSets(s *treatmentv1.Summary) []ruleSet {
	var list []ruleSet
	for _, r := range s.GetRuleSets() {
		list = append(list, ruleSet{r.GetRuleSetId(), r.GetVersion(), wording.Word(rules.Layer(r.GetLayer())), r.GetDigest()})
	}
	return list
}

func standing(s *treatmentv1.Settings) string {
	if word := wording.Word(rules.Standing(s.GetStanding())); word != "" {
		return word
	}
	return "standing not stated"
}

// mixCard is what is measured for one method and formulation.
type mixCard struct {
	Title, Total string
	Loads        []loadCard
	Boxes        []struct{} // one to tick for each load made
	TooMany      bool       // loads to tick one by one
}

type loadCard struct {
	Name                            string
	Mix, Product, Carrier           []string // US customary, metric; one where it is for both
	Adjuvant, Dye                   []string
	Remark                          string // what to do where something cannot be measured
	CarrierName                     string
	HasCarrier, HasAdjuvant, HasDye bool
}

// maxBoxes is how many loads are ticked one by one.
const maxBoxes = 24

func mixCards(mixes []*treatmentv1.Mix) []mixCard {
	var cards []mixCard
	for _, m := range mixes {
		c := mixCard{
			Title: wording.Choice(m.GetMethod(), m.GetFormulation()),
			Total: fmt.Sprintf("%s of mix for %s", measure.Both(m.GetMixL()*1000), wording.Count(m.GetStems(), "stem")),
			Boxes: make([]struct{}, min(m.GetLoads(), maxBoxes)), TooMany: m.GetLoads() > maxBoxes,
		}
		name := "The only load"
		if m.GetFullLoad() != nil {
			full := "The full load"
			if m.GetLoads() > 2 {
				full = fmt.Sprintf("Each of %d full loads", m.GetLoads()-1)
			}
			c.Loads = append(c.Loads, newLoad(full, m.GetFullLoad(), m.GetCarrier()))
			name = "Last load"
		}
		c.Loads = append(c.Loads, newLoad(name, m.GetLastLoad(), m.GetCarrier()))
		cards = append(cards, c)
	}
	return cards
}

// newLoad shows what the server rounded down to the marks of a measure as it is;
// the rest is rounded down here.
func newLoad(name string, l *treatmentv1.Load, carrier string) loadCard {
	return loadCard{
		Name: name, CarrierName: carrier, Remark: capital(report.TooLittle(l)),
		Mix:        filling(l.GetMixGal(), quantity.Gallons(l.GetMixGal()).Litres()),
		Product:    report.Product(l),
		Carrier:    filling(l.GetCarrierGal(), l.GetCarrierL()),
		Adjuvant:   inBoth(l.GetAdjuvantMl()),
		Dye:        inBoth(l.GetDyeMl()),
		HasCarrier: l.GetCarrierGal() > 0, HasAdjuvant: l.GetAdjuvantMl() > 0, HasDye: l.GetDyeMl() > 0,
	}
}

// filling is what a tank takes.
func filling(gal, l float64) []string {
	if l < 1 {
		return inBoth(l * 1000)
	}
	return []string{measure.Down(gal) + " gal", measure.Down(l) + " L"}
}

// inBoth is a volume in US customary units and in metric ones, once where they are the same.
func inBoth(ml float64) []string {
	return slices.Compact([]string{measure.US.Volume(ml), measure.Metric.Volume(ml)})
}

func faults(rows []*client.Row) []string {
	var list []string
	for _, r := range rows {
		for _, f := range r.Faults {
			list = append(list, f.String())
		}
	}
	return list
}

func capital(s string) string { return wording.Title(s) }

func joined(list []string) string { return strings.Join(list, ", ") }

// symbol is the shape that stands for a treatment on the map and in the tables.
type symbol string

const notTreated symbol = "not"

var symbols = map[commonv1.Method]symbol{
	commonv1.Method_METHOD_HAND_PULL:          "plus",
	commonv1.Method_METHOD_LOW_VOLUME_FOLIAR:  "ring",
	commonv1.Method_METHOD_HIGH_VOLUME_FOLIAR: "target",
	commonv1.Method_METHOD_BASAL_BARK:         "square",
	commonv1.Method_METHOD_HACK_AND_SQUIRT:    "triangle",
	commonv1.Method_METHOD_CUT_STUMP:          "diamond",
}

func symbolOf(r *client.Row) symbol {
	if !isPrescribed(r) {
		return notTreated
	}
	if s, known := symbols[r.Explanation.GetChoice().GetMethod()]; known {
		return s
	}
	return "star"
}
