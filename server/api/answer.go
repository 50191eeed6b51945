package api

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
)

// writeEach writes the messages of a list, side by side in memory.
func writeEach[M, T any](list []T, fill func(to *M, from *T)) []*M {
	if len(list) == 0 {
		return nil
	}
	memory, messages := make([]M, len(list)), make([]*M, len(list))
	for i := range list {
		messages[i] = &memory[i]
		fill(messages[i], &list[i])
	}
	return messages
}

// writeDose writes a dose, and nothing where nothing is applied.
func writeDose(d *treatment.Dose) *treatmentv1.Dose {
	if d.Mix == 0 {
		return nil
	}
	return new(doseRoom).write(d)
}

// doseRoom is the memory of a dose.
type doseRoom struct {
	treatmentv1.Dose
	rate float64
}

// write is writeDose into it.
func (p *doseRoom) write(d *treatment.Dose) *treatmentv1.Dose {
	if d.Mix == 0 {
		return nil
	}
	p.Dose = treatmentv1.Dose{
		Stems: d.Stems, Cuts: d.Cuts, CutMl: d.PerCut.Millilitres(),
		MixMl: d.Mix.Millilitres(), ProductMl: d.Product.Millilitres(), CarrierMl: d.Carrier.Millilitres(),
		AdjuvantMl: d.Adjuvant.Millilitres(), DyeMl: d.Dye.Millilitres(), AeG: d.AE.Grams(),
	}
	if d.HasRate {
		p.rate = d.Rate.PoundsPerAcre()
		p.RateLbAePerAc = &p.rate
	}
	return &p.Dose
}

func writeExplanation(e *treatment.Explanation, g *rules.Governing, known sharedFindings) *treatmentv1.Explanation {
	p := &treatmentv1.Explanation{
		Choice: writeChoice(e.Choice), SecondPass: writeChoice(e.Second), Why: e.Why,
		Alternatives: writeAlternatives(e.Alternatives), Findings: known.write(e.Findings), Dates: writeDates(&e.Dates),
		Steps: e.Steps, Cautions: e.Cautions, FollowUp: e.FollowUp, Remedies: e.Remedies,
		RuleSets: writeRefs(g.Sets),
	}
	for _, c := range rules.Conflicts(e.Findings) {
		p.Conflicts = append(p.Conflicts, c.Text)
	}
	return p
}

func writeChoice(c *treatment.Choice) *treatmentv1.Choice {
	if c == nil {
		return nil
	}
	p := &treatmentv1.Choice{
		Method: rulewire.Encode[commonv1.Method](c.Method), Equipment: rulewire.Encode[commonv1.Equipment](c.Equipment),
		Decision: rulewire.EncodeDecision(c.Decision), EntryIntervalH: int32(c.EntryHours), ExclusionZoneFt: c.ExclusionZone.Feet(),
	}
	if f := c.Formulation; f != nil {
		p.FormulationId, p.Formulation, p.Active, p.SignalWord = f.ID, f.Name, f.Active, f.SignalWord()
	}
	if r := c.Recipe; r != nil {
		p.Carrier, p.MixGAePerL = string(r.Carrier), r.Mix.GramsPerLitre()
	}
	return p
}

func writeAlternatives(list []treatment.Alternative) []*treatmentv1.Alternative {
	var out []*treatmentv1.Alternative
	for _, a := range list {
		p := &treatmentv1.Alternative{
			Method: rulewire.Encode[commonv1.Method](a.Method), Decision: rulewire.EncodeDecision(a.Decision), Reasons: a.Reasons,
		}
		if a.Formulation != nil {
			p.FormulationId = a.Formulation.ID
		}
		out = append(out, p)
	}
	return out
}

func writeDates(d *treatment.Dates) *treatmentv1.Dates {
	return &treatmentv1.Dates{
		TreatFrom: rulewire.EncodeDate(d.TreatFrom), TreatUntil: rulewire.EncodeDate(d.TreatUntil),
		FellFrom:    rulewire.EncodeDate(d.FellFrom),
		InspectFrom: rulewire.EncodeDate(d.InspectFrom), RetreatFrom: rulewire.EncodeDate(d.RetreatFrom),
	}
}

// sharedFindings are what rows said, as it is sent. Most stems are told the same of a row, and
// share it.
type sharedFindings map[finding]*rulesetv1.Finding

type finding struct {
	set      rules.Ref
	row      *rules.Row
	answer   *rules.Answer
	decision rules.Decision
	certain  bool
}

func (known sharedFindings) write(list []rules.Finding) []*rulesetv1.Finding {
	out := make([]*rulesetv1.Finding, 0, len(list))
	for i := range list {
		out = append(out, known.one(&list[i]))
	}
	return out
}

func (known sharedFindings) one(f *rules.Finding) *rulesetv1.Finding {
	key := finding{f.Set, f.Row, f.Answer, f.Decision, f.Certain}
	if p := known[key]; p != nil && len(f.Missing) == 0 {
		return p
	}
	p := &rulesetv1.Finding{
		RuleSet: rulewire.EncodeRef(f.Set), RuleId: f.Row.ID, Decision: rulewire.EncodeDecision(f.Decision),
		Purpose: f.Row.Purpose, Text: f.Text(), Citation: f.Row.Citation,
		Uncertain: !f.Certain, Missing: f.Missing,
	}
	if len(f.Missing) == 0 {
		known[key] = p
	}
	return p
}

func writeRefs(list []rules.Ref) []*commonv1.RuleSetRef {
	return writeEach(list, rulewire.FillRef)
}

func writeFaults(list []treatment.FieldFault) []*treatmentv1.FieldFault {
	return writeEach(list, func(to *treatmentv1.FieldFault, f *treatment.FieldFault) { to.Field, to.Problem = f.Field, f.Problem })
}

// writeOutcome relies, as a stream does, on the messages numbering outcomes as the core.
func writeOutcome(o treatment.Outcome) treatmentv1.Outcome { return treatmentv1.Outcome(o) }

func writeUse(siteID string, u *treatment.Use, area quantity.SquareMillimetres) *treatmentv1.SiteUse {
	p := &treatmentv1.SiteUse{}
	fillUse(p, siteID, u, area)
	return p
}

func fillUse(p *treatmentv1.SiteUse, siteID string, u *treatment.Use, area quantity.SquareMillimetres) {
	// A site without an area is prescribed nothing, so it has no use.
	used, _ := quantity.RateOf(u.Applied+u.Used, area)
	wanted, _ := quantity.RateOf(u.Wanted, area)
	*p = treatmentv1.SiteUse{
		SiteId: siteID, Active: u.Active, LimitLbAePerAc: u.Limit.PoundsPerAcre(), Source: u.Source,
		UsedLbAePerAc: used.PoundsPerAcre(), WantedLbAePerAc: wanted.PoundsPerAcre(), Seasons: u.Seasons,
	}
	if u.Seasons > 1 {
		p.Share = &treatmentv1.SeasonShare{Active: u.Active, Admitted: encodeShare(u.Share)}
	}
}
