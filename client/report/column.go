package report

import (
	"fmt"
	"slices"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/nearest"

	"example.org/rootward/client"
)

// Column is a column of the CSV result and a property of the GeoJSON result.
type Column struct {
	Name    string
	Meaning string
	// value gives nil where there is none; else a string, an int64, a float64, a
	// bool or a []string.
	value func(r *client.Row) any
	origin
	// quick appends the cell of a row whose whole record is not at hand, as value
	// would have it; it reports false where it takes the record. nil: it always does.
	quick func(b []byte, r *rowAt) ([]byte, bool)
	// pieces gives the texts that value lists, of pieces that explanations share: what is
	// known of one is its text. nil: value does.
	pieces func(r *client.Row, known knownPieces) []string
}

// knownPieces are texts of pieces of explanations, findings and alternatives.
type knownPieces map[any]string

// of gives the text of a piece, and keeps it unless there are many, or none are kept.
func (k knownPieces) of(piece any, say func() string) string {
	text, known := k[piece]
	if known {
		return text
	}
	const many = 16_384
	text = say()
	if k != nil {
		if len(k) >= many {
			clear(k)
		}
		k[piece] = text
	}
	return text
}

// origin says what a value follows from, if from one thing and nothing else.
type origin struct {
	explained bool // the outcome, the explanation and whether there is a second dose, which many rows share
	dosed     bool // the row's own dose
	worded    bool // of a row that was sent: its site, species and form
	rare      bool // what few rows have, as rowAt.isRare tells: all others have blanks
}

func column(name, meaning string, value func(r *client.Row) any) Column {
	return Column{Name: name, Meaning: meaning, value: value}
}

func (c Column) quickly(quick func(b []byte, r *rowAt) ([]byte, bool)) Column {
	c.quick = quick
	return c
}

func (c Column) inPieces(pieces func(*client.Row, knownPieces) []string) Column {
	c.pieces = pieces
	return c
}

func (c Column) ofWords() Column {
	c.worded = true
	return c
}

func (c Column) ofFew() Column {
	c.rare = true
	return c
}

// dosed marks the columns of a row's own dose.
func dosed(list []Column) []Column {
	for i := range list {
		list[i].dosed = true
	}
	return list
}

// explained marks columns whose values rows share.
func explained(list []Column) []Column {
	for i := range list {
		list[i].explained = true
	}
	return list
}

// Columns lists the columns in their order.
func Columns() []Column { return append([]Column(nil), columns...) }

// Chosen lists the columns with some names, in the order of all. The outcome has to be
// among them: a date or a species without it could be taken for a treatment.
func Chosen(names []string) ([]Column, error) {
	for i, name := range names {
		if !slices.ContainsFunc(columns, func(c Column) bool { return c.Name == name }) {
			return nil, unknownColumn(name)
		}
		if slices.Contains(names[:i], name) {
			return nil, fmt.Errorf("column %s is named twice; name each once", name)
		}
	}
	if !slices.Contains(names, outcomeName) {
		return nil, fmt.Errorf("the column %s is not among the chosen ones; add it: only a row that is prescribed may be treated", outcomeName)
	}
	return slices.DeleteFunc(Columns(), func(c Column) bool { return !slices.Contains(names, c.Name) }), nil
}

func unknownColumn(name string) error {
	all := make([]string, len(columns))
	for i, c := range columns {
		all[i] = c.Name
	}
	if near := nearest.To(name, all...); near != "" {
		return fmt.Errorf("there is no column %q; is it %s?", name, near)
	}
	return fmt.Errorf("there is no column %q; docs/result-format.md lists them", name)
}

const outcomeName = "outcome"

var columns = concat(rowColumns, outcomeColumns, choiceColumns, stemColumn, dosed(quickDoses(doseColumns("", "", dose))), secondColumns, dateColumns, safetyColumns, waterColumns, reasonColumns, faultColumns, ruleSetColumns)

func concat(lists ...[]Column) []Column {
	var all []Column
	for _, list := range lists {
		all = append(all, list...)
	}
	return all
}

var rowColumns = []Column{
	column("row", "number of the row in the inventory, from 1", func(r *client.Row) any { return r.Record.Number }).quickly(quickNumber),
	column("line", "line of the inventory file on which it begins", func(r *client.Row) any { return int64(r.Record.Line) }).quickly(quickLine),
	column("occurrenceID", "your id of the row", func(r *client.Row) any { return text(r.Record.Stem.GetStemId()) }).quickly(quickID),
	column("locationID", "id of the site", func(r *client.Row) any { return text(r.Record.SiteID) }).quickly(quickSite).ofWords(),
	column("place", "place whose law governs", func(r *client.Row) any { return text(r.Record.Place) }).quickly(quickPlace).ofWords(),
	column("scientificName", "species", func(r *client.Row) any { return text(r.Record.Stem.GetScientificName()) }).quickly(quickSpecies).ofWords(),
	column("form", "what stands there", func(r *client.Row) any { return text(form(r)) }).quickly(quickForm).ofWords(),
	column("diameter_cm", "diameter that was computed with; blank if not known", func(r *client.Row) any { return number(r.Record.Stem.DiameterCm) }).quickly(quickDiameter),
	column("decimalLatitude", "degrees, WGS 84", func(r *client.Row) any { return number(r.Record.Lat) }).quickly(quickLatitude),
	column("decimalLongitude", "degrees, WGS 84", func(r *client.Row) any { return number(r.Record.Lon) }).quickly(quickLongitude),
}

var outcomeColumns = explained([]Column{
	column(outcomeName, "prescribed, deferred, undetermined or rejected; only a prescribed row may be treated on the day asked", func(r *client.Row) any { return outcome(r) }),
	column("why", "why this treatment, or why none", why),
})

// The columns of a treatment are filled for a prescribed row alone: who filters by
// method must not come upon a stem that is not to be treated.
var choiceColumns = explained([]Column{
	column("method", "the prescribed method", prescribed(func(c *treatmentv1.Choice) any { return text(methodWord(c)) })),
	column("formulation_id", "id of the formulation in the catalogue; blank when nothing is applied", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetFormulationId()) })),
	column("formulation", "the formulation in words", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetFormulation()) })),
	column("active", "active ingredient", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetActive()) })),
	column("decision", "what the rules say of it: allowed, or conditional on what the column findings lists", prescribed(func(c *treatmentv1.Choice) any { return text(decision(c)) })),
	column("equipment", "what puts it on the plant", prescribed(func(c *treatmentv1.Choice) any { return text(equipment(c)) })),
	column("carrier", "water, oil or none", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetCarrier()) })),
	column("mix_g_ae_per_l", "strength of the mix, grams of acid equivalent per litre", prescribed(func(c *treatmentv1.Choice) any { return positive(c.GetMixGAePerL()) })),
	column("candidate_method", "method that would be next for a deferred or undetermined row, if what speaks against it is removed", candidate(func(c *treatmentv1.Choice) any { return text(methodWord(c)) })),
	column("candidate_formulation_id", "its formulation", candidate(func(c *treatmentv1.Choice) any { return text(c.GetFormulationId()) })),
})

var stemColumn = []Column{column("stems", "stems to treat", func(r *client.Row) any { return some(r.Stems()) }).quickly(quickStems)}

// doseColumns are the columns of one dose. All volumes are for all stems of the
// row; nothing prescribed leaves them blank.
func doseColumns(prefix, of string, dose func(*client.Row) *treatmentv1.Dose) []Column {
	volume := func(name, meaning string, value func(d *treatmentv1.Dose) any) Column {
		return column(prefix+name, meaning+of, func(r *client.Row) any {
			if d := dose(r); d != nil {
				return value(d)
			}
			return nil
		})
	}
	return []Column{
		volume("cuts", "cuts through the bark, of all stems; blank where the method makes none", func(d *treatmentv1.Dose) any { return some(d.GetCuts()) }),
		volume("cut_ml", "mix per cut, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetCutMl()) }),
		volume("mix_ml", "mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetMixMl()) }),
		volume("product_ml", "product in the mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetProductMl()) }),
		volume("carrier_ml", "water or oil in the mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetCarrierMl()) }),
		volume("adjuvant_ml", "adjuvant in the mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetAdjuvantMl()) }),
		volume("dye_ml", "dye in the mix, millilitres", func(d *treatmentv1.Dose) any { return positive(d.GetDyeMl()) }),
		volume("ae_g", "acid equivalent, grams", func(d *treatmentv1.Dose) any { return positive(d.GetAeG()) }),
		volume("rate_lb_ae_per_ac", "acid equivalent on the row's own area, or the site's where the row has none, pounds per acre", func(d *treatmentv1.Dose) any { return number(d.RateLbAePerAc) }),
	}
}

var secondColumns = concat(explained([]Column{
	column("second_method", "method of the later pass of a two-pass plan; prescribe it anew on its date", second(func(c *treatmentv1.Choice) any { return text(methodWord(c)) })),
	column("second_formulation_id", "its formulation", second(func(c *treatmentv1.Choice) any { return text(c.GetFormulationId()) })),
}), whereSecond([]Column{
	column("second_stems", "stems, in the later pass", func(r *client.Row) any { return some(r.Second.GetStems()) }),
}), whereSecond(doseColumns("second_", ", in the later pass", func(r *client.Row) *treatmentv1.Dose { return r.Second })))

var dateColumns = explained([]Column{
	column("treat_from", "first date on which it may be done; of a deferred row the next opening; blank for an undetermined row", func(r *client.Row) any { return day(r, treatFrom) }),
	column("treat_until", "last date of that opening, or the last before other law begins; blank if it does not close", func(r *client.Row) any { return day(r, treatUntil) }),
	column("fell_from", "first date on which a stem treated on treat_from may be felled; one treated later waits as many days from its own day of treatment; blank if it is not to be felled", func(r *client.Row) any { return day(r, fellFrom) }),
	column("inspect_from", "first inspection", func(r *client.Row) any { return day(r, inspectFrom) }),
	column("retreat_from", "opening of the next season's retreatment; blank where the law of that day is not known today", func(r *client.Row) any { return day(r, retreatFrom) }),
})

var safetyColumns = explained([]Column{
	column("signal_word", "signal word of the product", prescribed(func(c *treatmentv1.Choice) any { return text(c.GetSignalWord()) })),
	column("entry_interval_h", "hours during which nobody enters, the longest of label and rules", prescribed(func(c *treatmentv1.Choice) any { return some(int64(c.GetEntryIntervalH())) })),
	column("exclusion_zone_ft", "radius in feet within which nobody may be while it is applied; blank if no rule sets one", prescribed(func(c *treatmentv1.Choice) any { return positive(c.GetExclusionZoneFt()) })),
	column("steps", "how it is done, in order; blank for a row that is not prescribed", func(r *client.Row) any {
		if r.Outcome != treatmentv1.Outcome_OUTCOME_PRESCRIBED {
			return nil
		}
		return list(r.Explanation.GetSteps())
	}),
	column("cautions", "what protects people, water and neighbours", func(r *client.Row) any { return list(r.Explanation.GetCautions()) }),
	column("follow_up", "what is done afterwards", func(r *client.Row) any { return list(r.Explanation.GetFollowUp()) }),
})

var reasonColumns = explained([]Column{
	column("reasons_against_others", "each treatment that was not chosen, with the reasons", func(r *client.Row) any { return list(alternatives(r, nil)) }).inPieces(alternatives),
	column("findings", "each rule that applies: decision, rule set and row, what it asks, citation", func(r *client.Row) any { return list(findings(r, nil)) }).inPieces(findings),
	column("remedies", "what has to be known or done before a decision is possible", func(r *client.Row) any { return list(r.Explanation.GetRemedies()) }),
})

var faultColumns = []Column{
	column("faults", "what is wrong with a rejected row, by line and column", func(r *client.Row) any { return list(faults(r)) }).quickly(quickFaults).ofFew(),
}

var ruleSetColumns = explained([]Column{
	column("rule_sets", "the rule sets that governed, with version and SHA-256 of their content", func(r *client.Row) any { return list(ruleSets(r)) }),
})

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
		lines = append(lines, ref.GetRuleSetId()+" "+ref.GetVersion()+" sha256:"+ref.GetDigest())
	}
	return lines
}

func findings(r *client.Row, known knownPieces) []string {
	lines := make([]string, len(r.Explanation.GetFindings()))
	for i, f := range r.Explanation.GetFindings() {
		lines[i] = known.of(f, func() string { return Finding(f) })
	}
	return lines
}

func alternatives(r *client.Row, known knownPieces) []string {
	lines := make([]string, len(r.Explanation.GetAlternatives()))
	for i, a := range r.Explanation.GetAlternatives() {
		lines[i] = known.of(a, func() string { return alternativeName(a) + ": " + strings.Join(a.GetReasons(), "; ") })
	}
	return lines
}
