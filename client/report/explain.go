package report

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"fmt"
	"io"
	"strings"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"

	"example.org/rootward/client"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// Reasoning is one row with all that led to its answer.
type Reasoning struct {
	Row      *client.Row
	Date     civil.Date
	Settings *treatmentv1.Settings // under which it was answered
	Units    measure.System
	Working  []string // of the dose, a line a step
}

// Write writes the whole reasoning for a terminal.
func (r *Reasoning) Write(w io.Writer) error {
	p := page.On(w)
	r.subject(p)
	if r.Row.Outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
		p.Heading("What is wrong")
		items(p, faults(r.Row))
		return p.Err()
	}
	e := r.Row.Explanation
	r.chosen(p, e)
	r.dose(p)
	section(p, "How it is done", steps(r.Row))
	section(p, "Distances to water", water(r.Row, r.Units.Nearer))
	section(p, "What is missing, or would change the answer", e.GetRemedies())
	rulesThatApply(p, e.GetFindings())
	Conflicts(p, e.GetConflicts())
	against(p, e.GetAlternatives())
	section(p, "Cautions", withAlways(e.GetCautions()))
	section(p, "Afterwards", e.GetFollowUp())
	p.Heading("Rule sets that governed")
	for _, ref := range e.GetRuleSets() {
		p.Text("  - ", fmt.Sprintf("%s %s (%s), sha256 %s", ref.GetRuleSetId(), ref.GetVersion(), wording.Word(rules.Layer(ref.GetLayer())), ref.GetDigest()))
	}
	return p.Err()
}

func (r *Reasoning) subject(p *page.Page) {
	record := r.Row.Record
	p.Line("ROW %d (line %d of the inventory): %s", record.Number, record.Line, record.Stem.GetStemId())
	p.Text("  stem     ", Stem(record.Stem, r.Units))
	p.Text("  site     ", record.SiteID+", "+record.Place)
	p.Text("  day      ", r.Date.String())
	p.Text("  standing ", standing(r.Settings, "not stated (--standing)"))
	p.Text("  outcome  ", strings.ToUpper(wording.Outcome(r.Row.Outcome)))
	if r.Row.Explanation.GetWhy() != "" {
		p.Text("  why      ", r.Row.Explanation.GetWhy())
	}
}

// Stem describes a stem in words.
func Stem(s *treatmentv1.Stem, units measure.System) string {
	parts := []string{s.GetScientificName(), wording.Word(rules.GrowthForm(s.GetForm()))}
	if s.DiameterCm != nil {
		where := "at breast height"
		if s.GetRootCollar() {
			where = "at the root collar"
		}
		parts = append(parts, units.Diameter(s.GetDiameterCm())+" "+where)
	}
	if s.HeightM != nil {
		parts = append(parts, units.Length(s.GetHeightM())+" tall")
	}
	if s.GetCount() > 1 {
		parts = append(parts, wording.Count(s.GetCount(), "stem"))
	}
	if s.AreaM2 != nil {
		parts = append(parts, "on "+units.Area(s.GetAreaM2()))
	}
	return strings.Join(parts, ", ")
}

func (r *Reasoning) chosen(p *page.Page, e *treatmentv1.Explanation) {
	title := "Chosen"
	if r.Row.Outcome != treatmentv1.Outcome_OUTCOME_PRESCRIBED {
		title = "Would be next (do NOT treat)"
	}
	p.Heading(title)
	if e.GetChoice() == nil {
		p.Line("  nothing")
		return
	}
	p.Text("  ", ChoiceInWords(e.GetChoice()))
	if r.Row.Outcome != treatmentv1.Outcome_OUTCOME_UNDETERMINED && e.GetDates().GetTreatFrom() != nil {
		p.Text("  ", wording.Title(Dates(e.GetDates()))+".")
	}
	if e.GetSecondPass() != nil {
		p.Text("  later pass: ", ChoiceInWords(e.GetSecondPass()))
	}
}

// ChoiceInWords says what a treatment is, and what the rules say of it.
func ChoiceInWords(c *treatmentv1.Choice) string {
	text := wording.Choice(c.GetMethod(), c.GetFormulation())
	if word := wording.Decision(c.GetDecision()); word != "" {
		text += fmt.Sprintf("; by law %s", word)
	}
	if c.GetFormulationId() == "" {
		return text + "; nothing is applied."
	}
	text += fmt.Sprintf("; %s in %s at %s g ae/L; signal word %s; entry interval %d h", c.GetFormulationId(), c.GetCarrier(),
		measure.Down(c.GetMixGAePerL()), c.GetSignalWord(), c.GetEntryIntervalH())
	if c.GetExclusionZoneFt() > 0 {
		text += fmt.Sprintf("; exclusion zone %g ft", c.GetExclusionZoneFt())
	}
	return text + "."
}

func (r *Reasoning) dose(p *page.Page) {
	if r.Row.Dose == nil {
		return
	}
	p.Heading("Dose")
	if r.Row.Dose.GetMixMl() == 0 {
		p.Line("  %s; nothing is applied", wording.Count(r.Row.Stems(), "stem"))
		return
	}
	p.Text("  ", DoseInWords(r.Row.Dose))
	for _, step := range r.Working {
		p.Text("    ", step)
	}
	if r.Row.Second != nil {
		p.Text("  later pass: ", DoseInWords(r.Row.Second))
	}
}

// DoseInWords writes a dose in one sentence, each volume rounded down.
func DoseInWords(d *treatmentv1.Dose) string {
	parts := []string{wording.Count(d.GetStems(), "stem")}
	if d.GetCuts() > 0 {
		parts = append(parts, fmt.Sprintf("%s of %s mL", wording.Count(d.GetCuts(), "cut"), measure.Down(d.GetCutMl())))
	}
	for _, v := range []struct {
		name string
		ml   float64
	}{{"mix", d.GetMixMl()}, {"product", d.GetProductMl()}, {"carrier", d.GetCarrierMl()}, {"adjuvant", d.GetAdjuvantMl()}, {"dye", d.GetDyeMl()}} {
		if v.ml > 0 {
			parts = append(parts, v.name+" "+small(v.ml))
		}
	}
	if d.GetAeG() > 0 {
		parts = append(parts, fmt.Sprintf("%s g ae", measure.Up(d.GetAeG())))
	}
	if d.RateLbAePerAc != nil {
		parts = append(parts, fmt.Sprintf("%s lb ae/ac", measure.Up(d.GetRateLbAePerAc())))
	}
	return strings.Join(parts, "; ") + "."
}

// small writes a volume in millilitres first, as a dose is measured, and in fluid
// ounces where those can be measured too.
func small(ml float64) string {
	if quantity.Millilitres(ml).FluidOunces() < measure.LeastFluidOunces {
		return measure.Down(ml) + " mL" // what is in a stem's mix nobody measures by itself
	}
	return fmt.Sprintf("%s (%s)", measure.Metric.Volume(ml), measure.US.Volume(ml))
}

func steps(r *client.Row) []string {
	if r.Outcome != treatmentv1.Outcome_OUTCOME_PRESCRIBED {
		return nil
	}
	return r.Explanation.GetSteps()
}

func rulesThatApply(p *page.Page, findings []*rulesetv1.Finding) {
	if len(findings) == 0 {
		return
	}
	p.Heading("Rules that apply")
	for _, f := range findings {
		FindingInFull(p, f)
	}
}

// FindingInFull writes what a rule said with its set, version, digest, purpose and
// citation.
func FindingInFull(p *page.Page, f *rulesetv1.Finding) {
	p.Text("  - ", fmt.Sprintf("%s: %s", said(f.GetDecision()), f.GetText()))
	p.Text("      ", fmt.Sprintf("%s/%s: %s", f.GetRuleSet().GetRuleSetId(), f.GetRuleId(), f.GetPurpose()))
	if len(f.GetMissing()) > 0 {
		p.Text("      ", "not known: "+strings.Join(f.GetMissing(), ", "))
	}
	p.Text("      ", fmt.Sprintf("%s; %s", f.GetCitation(), wording.RuleSet(f.GetRuleSet())))
}

// Conflicts writes where rules of two sets ask for different things. Each begins with
// a rule's name, as it stands.
func Conflicts(p *page.Page, texts []string) {
	if len(texts) == 0 {
		return
	}
	p.Heading("Where rule sets ask for different things")
	for _, text := range texts {
		p.Text("  - ", text)
	}
}

func against(p *page.Page, alternatives []*treatmentv1.Alternative) {
	if len(alternatives) == 0 {
		return
	}
	p.Heading("Against the others")
	for _, a := range alternatives {
		Against(p, a)
	}
}

// Against writes why one treatment was not chosen.
func Against(p *page.Page, a *treatmentv1.Alternative) {
	name := wording.Title(alternativeName(a))
	if word := wording.Decision(a.GetDecision()); word != "" {
		name += " (by law " + word + ")"
	}
	p.Text("  - ", name)
	for _, reason := range a.GetReasons() {
		p.Text("      ", reason)
	}
}

// withAlways makes sure that what stands under every plan is among the cautions.
func withAlways(cautions []string) []string {
	list := append([]string(nil), Always...)
	for _, c := range cautions {
		if c != Always[0] && c != Always[1] {
			list = append(list, c)
		}
	}
	return list
}

func section(p *page.Page, title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	p.Heading(title)
	items(p, lines)
}

func items(p *page.Page, lines []string) {
	for _, line := range lines {
		p.Text("  - ", wording.Title(line))
	}
}

// said heads a finding. A rule that neither forbids nor asks for anything is in order
// here: "allowed" before "not within 50 ft of a well" would read as its opposite.
func said(d commonv1.Decision) string {
	if d == commonv1.Decision_DECISION_ALLOWED {
		return "IN ORDER"
	}
	return strings.ToUpper(wording.Decision(d))
}
