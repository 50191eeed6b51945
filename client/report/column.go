package report

import (
	"fmt"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
)

// Column is a column of the CSV result and a property of the GeoJSON result.
type Column struct {
	Name    string
	Meaning string
	// value gives nil where there is none; else a string, an int64, a float64, a
	// bool or a []string.
	value func(r *client.Row) any
}

// Columns lists the columns in their order.
func Columns() []Column { return append([]Column(nil), columns...) }

var columns = concat(rowColumns, choiceColumns, stemColumn, doseColumns("", "", dose), secondColumns, dateColumns, safetyColumns, reasonColumns)

func concat(lists ...[]Column) []Column {
	var all []Column
	for _, list := range lists {
		all = append(all, list...)
	}
	return all
}

var rowColumns = []Column{
	{"row", "number of the row in the inventory, from 1", func(r *client.Row) any { return r.Record.Number }},
	{"line", "line of the inventory file on which it begins", func(r *client.Row) any { return int64(r.Record.Line) }},
	{"occurrenceID", "your id of the row", func(r *client.Row) any { return text(r.Record.Stem.GetStemId()) }},
	{"locationID", "id of the site", func(r *client.Row) any { return text(r.Record.SiteID) }},
	{"place", "place whose law governs", func(r *client.Row) any { return text(r.Record.Place) }},
	{"scientificName", "species", func(r *client.Row) any { return text(r.Record.Stem.GetScientificName()) }},
	{"form", "what stands there", func(r *client.Row) any { return text(form(r)) }},
	{"diameter_cm", "diameter that was computed with; blank if not known", func(r *client.Row) any { return number(r.Record.Stem.DiameterCm) }},
	{"decimalLatitude", "degrees, WGS 84", func(r *client.Row) any { return number(r.Record.Lat) }},
	{"decimalLongitude", "degrees, WGS 84", func(r *client.Row) any { return number(r.Record.Lon) }},
	{"outcome", "prescribed, deferred, undetermined or rejected; only a prescribed row may be treated on the day asked", func(r *client.Row) any { return outcome(r) }},
	{"why", "why this treatment, or why none", why},
}

// The columns of a treatment are filled for a prescribed row alone: who filters by
// method must not come upon a stem that is not to be treated.
var choiceColumns = []Column{
	{"method", "the prescribed method", prescribed(func(c *treatmentv1.Choice) any { return text(methodWord(c)) })},
	{"formulation_id", "id of the formulation in the catalogue; blank when nothing is applied", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetFormulationId()) })},
	{"formulation", "the formulation in words", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetFormulation()) })},
	{"active", "active ingredient", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetActive()) })},
	{"decision", "what the rules say of it: allowed, or conditional on what the column findings lists", prescribed(func(c *treatmentv1.Choice) any { return text(decision(c)) })},
	{"equipment", "what puts it on the plant", prescribed(func(c *treatmentv1.Choice) any { return text(equipment(c)) })},
	{"carrier", "water, oil or none", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetCarrier()) })},
	{"mix_g_ae_per_l", "strength of the mix, grams of acid equivalent per litre", prescribed(func(c *treatmentv1.Choice) any { return positive(c.GetMixGAePerL()) })},
	{"candidate_method", "method that would be next for a deferred or undetermined row, if what speaks against it is removed", candidate(func(c *treatmentv1.Choice) any { return text(methodWord(c)) })},
	{"candidate_formulation_id", "its formulation", candidate(func(c *treatmentv1.Choice) any { return text(c.GetFormulationId()) })},
}

var stemColumn = []Column{{"stems", "stems to treat", func(r *client.Row) any { return some(r.Stems()) }}}

// doseColumns are the columns of one dose. All volumes are for all stems of the
// row; nothing prescribed leaves them blank.
func doseColumns(prefix, of string, dose func(*client.Row) *treatmentv1.Dose) []Column {
	column := func(name, meaning string, value func(d *treatmentv1.Dose) any) Column {
		return Column{prefix + name, meaning + of, func(r *client.Row) any {
			if d := dose(r); d != nil {
				return value(d)
			}
			return nil
		}}
	}
	return []Column{
		column("cuts", "cuts through the bark, of all stems; blank where the method makes none", func(d *treatmentv1.Dose) any { return some(d.GetCuts()) }),
		column("cut_ml", "mix per cut, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetCutMl()) }),
		column("mix_ml", "mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetMixMl()) }),
		column("product_ml", "product in the mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetProductMl()) }),
		column("carrier_ml", "water or oil in the mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetCarrierMl()) }),
		column("adjuvant_ml", "adjuvant in the mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetAdjuvantMl()) }),
		column("dye_ml", "dye in the mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetDyeMl()) }),
		column("ae_g", "acid equivalent, grams", func(d *treatmentv1.Dose) any { return positive(d.GetAeG()) }),
		column("rate_lb_ae_per_ac", "acid equivalent on the row's own area, or the site's where the row has none, pounds per acre", func(d *treatmentv1.Dose) any { return number(d.RateLbAePerAc) }),
	}
}

var secondColumns = append([]Column{
	{"second_method", "method of the later pass of a two-pass plan; prescribe it anew on its date", second(func(c *treatmentv1.Choice) any { return text(methodWord(c)) })},
	{"second_formulation_id", "its formulation", second(func(c *treatmentv1.Choice) any { return text(c.GetFormulationId()) })},
	{"second_stems", "stems, in the later pass", func(r *client.Row) any { return some(r.Second.GetStems()) }},
}, doseColumns("second_", ", in the later pass", func(r *client.Row) *treatmentv1.Dose { return r.Second })...)

var dateColumns = []Column{
	{"treat_from", "first date on which it may be done; of a deferred row the next opening; blank for an undetermined row", func(r *client.Row) any { return day(r, treatFrom) }},
	{"treat_until", "last date of that opening; blank if it does not close", func(r *client.Row) any { return day(r, treatUntil) }},
	{"fell_from", "first date on which a stem treated on treat_from may be felled; one treated later waits as many days from its own day of treatment; blank if it is not to be felled", func(r *client.Row) any { return day(r, fellFrom) }},
	{"inspect_from", "first inspection", func(r *client.Row) any { return day(r, inspectFrom) }},
	{"retreat_from", "opening of the next season's retreatment", func(r *client.Row) any { return day(r, retreatFrom) }},
}

var safetyColumns = []Column{
	{"signal_word", "signal word of the product", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetSignalWord()) })},
	{"entry_interval_h", "hours during which nobody enters, the longest of label and rules", prescribed(func(c *treatmentv1.Choice) any { return some(int64(c.GetEntryIntervalH())) })},
	{"exclusion_zone_ft", "radius in feet within which nobody may be while it is applied; blank if no rule sets one", prescribed(func(c *treatmentv1.Choice) any { return positive(c.GetExclusionZoneFt()) })},
	{"steps", "how it is done, in order; blank for a row that is not prescribed", func(r *client.Row) any {
		if r.Outcome != treatmentv1.Outcome_OUTCOME_PRESCRIBED {
			return nil
		}
		return list(r.Explanation.GetSteps())
	}},
	{"cautions", "what protects people, water and neighbours", func(r *client.Row) any { return list(r.Explanation.GetCautions()) }},
	{"follow_up", "what is done afterwards", func(r *client.Row) any { return list(r.Explanation.GetFollowUp()) }},
}

var reasonColumns = []Column{
	{"reasons_against_others", "each treatment that was not chosen, with the reasons", func(r *client.Row) any { return list(alternatives(r)) }},
	{"findings", "each rule that applies: decision, rule set and row, what it asks, citation", func(r *client.Row) any { return list(findings(r)) }},
	{"remedies", "what has to be known or done before a decision is possible", func(r *client.Row) any { return list(r.Explanation.GetRemedies()) }},
	{"faults", "what is wrong with a rejected row, by line and column", func(r *client.Row) any { return list(faults(r)) }},
	{"rule_sets", "the rule sets that governed, with version and SHA-256 of their content", func(r *client.Row) any { return list(ruleSets(r)) }},
}

func faults(r *client.Row) []string {
	lines := make([]string, len(r.Faults))
	for i, f := range r.Faults {
		lines[i] = f.String()
	}
	return lines
}

func ruleSets(r *client.Row) []string {
	var lines []string
	for _, ref := range r.Explanation.GetRuleSets() {
		lines = append(lines, fmt.Sprintf("%s %s sha256:%s", ref.GetRuleSetId(), ref.GetVersion(), ref.GetDigest()))
	}
	return lines
}

func findings(r *client.Row) []string {
	var lines []string
	for _, f := range r.Explanation.GetFindings() {
		lines = append(lines, Finding(f))
	}
	return lines
}

func alternatives(r *client.Row) []string {
	var lines []string
	for _, a := range r.Explanation.GetAlternatives() {
		lines = append(lines, alternativeName(a)+": "+strings.Join(a.GetReasons(), "; "))
	}
	return lines
}
