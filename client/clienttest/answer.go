package clienttest

import (
	"google.golang.org/genproto/googleapis/type/date"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Answer is what a server says of one row.
type Answer struct {
	Outcome      treatmentv1.Outcome
	Explanation  *treatmentv1.Explanation
	Dose, Second *treatmentv1.Dose
	Faults       []*treatmentv1.FieldFault
}

// AnswerFor gives the fixture's answer for a row. A row that the fixture does not
// know is prescribed two cuts.
func AnswerFor(id string) Answer {
	switch id {
	case "m-2":
		return Answer{Outcome: treatmentv1.Outcome_OUTCOME_PRESCRIBED, Explanation: basal, Dose: &treatmentv1.Dose{
			Stems: 12, MixMl: 678.58, ProductMl: 135.716, CarrierMl: 539.472, DyeMl: 3.392, AeG: 65.05, RateLbAePerAc: new(0.0717)}}
	case "m-3":
		return Answer{Outcome: treatmentv1.Outcome_OUTCOME_PRESCRIBED, Explanation: pull, Dose: &treatmentv1.Dose{}}
	case "m-4":
		return Answer{Outcome: treatmentv1.Outcome_OUTCOME_PRESCRIBED, Explanation: foliar,
			Dose:   &treatmentv1.Dose{Stems: 40, MixMl: 1514.1, ProductMl: 30.2, CarrierMl: 1476.3, AdjuvantMl: 7.6, AeG: 10.9, RateLbAePerAc: new(0.8)},
			Second: &treatmentv1.Dose{Stems: 2, MixMl: 113, ProductMl: 22.6, CarrierMl: 90.4, AeG: 10.8}}
	case "m-5":
		return Answer{Outcome: treatmentv1.Outcome_OUTCOME_UNDETERMINED, Explanation: unknown}
	case "m-6":
		return Answer{Outcome: treatmentv1.Outcome_OUTCOME_DEFERRED, Explanation: later}
	case "b-3":
		return Answer{Outcome: treatmentv1.Outcome_OUTCOME_UNDETERMINED, Explanation: lawless}
	case "b-5":
		return Answer{Outcome: treatmentv1.Outcome_OUTCOME_REJECTED, Faults: []*treatmentv1.FieldFault{
			{Field: "scientific_name", Problem: `"Rhamnus cathartica" is not in the catalogue; ListCatalogue lists what is`}}}
	}
	return Answer{Outcome: treatmentv1.Outcome_OUTCOME_PRESCRIBED, Explanation: hack, Dose: &treatmentv1.Dose{
		Stems: 1, Cuts: 2, CutMl: 1, MixMl: 2, ProductMl: 1, CarrierMl: 1, AeG: 0.36, RateLbAePerAc: new(0.0004)}}
}

// RuleSets are those that governed.
var RuleSets = []*commonv1.RuleSetRef{
	{RuleSetId: "us-federal", Version: "2031.1", Digest: "0f1e2d3c4b5a69788796a5b4c3d2e1f00f1e2d3c4b5a69788796a5b4c3d2e1f0", Layer: commonv1.Layer_LAYER_FEDERAL},
	{RuleSetId: "velmora", Version: "7", Digest: "a1b2c3d4e5f60718293a4b5c6d7e8f90a1b2c3d4e5f60718293a4b5c6d7e8f90", Layer: commonv1.Layer_LAYER_STATE},
}

var findings = []*rulesetv1.Finding{
	{RuleSet: RuleSets[0], RuleId: "entry", Decision: commonv1.Decision_DECISION_CONDITIONAL, Purpose: "Keep people out.",
		Text: "no entry for 12 hours", Citation: "invented code 1.2 (2031)"},
	{RuleSet: RuleSets[0], RuleId: "zone", Decision: commonv1.Decision_DECISION_CONDITIONAL, Purpose: "Keep people away.",
		Text: "nobody within 25 ft (7.62 m) while it is applied", Citation: "invented code 1.3 (2031)"},
	{RuleSet: RuleSets[1], RuleId: "standing", Decision: commonv1.Decision_DECISION_CONDITIONAL, Purpose: "Trained people only.",
		Text: "applicator at least certified", Citation: "Velmora invented act, section 4"},
	{RuleSet: RuleSets[1], RuleId: "notice", Decision: commonv1.Decision_DECISION_CONDITIONAL, Purpose: "Neighbours know.",
		Text: "tell the owners of adjoining land at least 3 days before and at most 14", Citation: "Velmora invented act, section 6"},
	{RuleSet: RuleSets[1], RuleId: "stream", Decision: commonv1.Decision_DECISION_ALLOWED, Purpose: "Keep streams clean.",
		Text: "not within 25 ft (7.62 m) of perennial stream, counted from the bank top", Citation: "Velmora invented act, section 9"},
	{RuleSet: RuleSets[1], RuleId: "wind", Decision: commonv1.Decision_DECISION_CONDITIONAL, Purpose: "No drift.",
		Text: "wind at least 3 and at most 10 mph, by any single reading, gusts included", Citation: "Velmora invented act, section 11"},
	{RuleSet: RuleSets[1], RuleId: "dated", Decision: commonv1.Decision_DECISION_ALLOWED, Purpose: "Seasons.",
		Text: "1 July to 30 September is translocation", Citation: "Velmora invented act, annex"},
}

var always = []string{"The label is the law and stands above this plan.", "Local codes and the judgement of a licensed practitioner stand above this plan."}

func on(year, month, day int32) *date.Date { return &date.Date{Year: year, Month: month, Day: day} }

var dates = &treatmentv1.Dates{TreatFrom: on(2031, 8, 10), TreatUntil: on(2031, 10, 15), FellFrom: on(2031, 9, 9), InspectFrom: on(2032, 5, 15), RetreatFrom: on(2032, 7, 15)}

var hackChoice = &treatmentv1.Choice{
	Method: commonv1.Method_METHOD_HACK_AND_SQUIRT, FormulationId: "triclopyr-amine-3", Formulation: "triclopyr amine salt, 3 lb ae/gal",
	Active: "triclopyr", Carrier: "water", MixGAePerL: 179.7, Decision: commonv1.Decision_DECISION_CONDITIONAL, SignalWord: "DANGER",
	EntryIntervalH: 48, Equipment: commonv1.Equipment_EQUIPMENT_HAND_TOOL,
}

var basalChoice = &treatmentv1.Choice{
	Method: commonv1.Method_METHOD_BASAL_BARK, FormulationId: "triclopyr-ester-4", Formulation: "triclopyr ester, 4 lb ae/gal",
	Active: "triclopyr", Carrier: "oil", MixGAePerL: 95.86, Decision: commonv1.Decision_DECISION_CONDITIONAL, SignalWord: "CAUTION",
	EntryIntervalH: 12, ExclusionZoneFt: 25, Equipment: commonv1.Equipment_EQUIPMENT_BACKPACK,
}

var hack = &treatmentv1.Explanation{
	Choice: hackChoice, Why: "Hack and squirt with triclopyr amine salt, 3 lb ae/gal: lawful under the conditions listed.",
	Alternatives: []*treatmentv1.Alternative{
		{Method: commonv1.Method_METHOD_HAND_PULL, Reasons: []string{"only a seedling comes out with its whole root [common practice, no source]"}},
		{Method: commonv1.Method_METHOD_BASAL_BARK, FormulationId: "triclopyr-ester-4", Decision: commonv1.Decision_DECISION_CONDITIONAL, Reasons: []string{"above 6 in (15.24 cm) the bark lets too little through [invented handbook]"}},
	},
	Findings: findings, Dates: dates,
	Steps:    []string{"Make one downward cut for each 1 in of diameter.", "Put 1 mL of mix into each cut at once."},
	Cautions: append([]string{"Cut away from yourself.", "Signal word DANGER. Wear what the label asks for."}, always...),
	FollowUp: []string{"Do not cut it for at least 30 days."}, RuleSets: RuleSets,
}

var basal = &treatmentv1.Explanation{
	Choice: basalChoice, Why: "Basal bark with triclopyr ester, 4 lb ae/gal: lawful under the conditions listed.",
	Findings: findings[:5], Dates: dates, Steps: []string{"Wet the bark from the ground line up to 15 in (38.1 cm), all the way round."},
	Cautions: append([]string{"Never on wet or frozen bark.", "No rain for 2 hours after the treatment."}, always...),
	FollowUp: []string{"Do not cut it for at least 30 days."}, RuleSets: RuleSets,
}

var pull = &treatmentv1.Explanation{
	Choice: &treatmentv1.Choice{Method: commonv1.Method_METHOD_HAND_PULL, Carrier: "none", Decision: commonv1.Decision_DECISION_ALLOWED},
	Why:    "Hand pull: lawful.", Dates: &treatmentv1.Dates{TreatFrom: on(2031, 8, 10), InspectFrom: on(2032, 5, 15)},
	Steps: []string{"Pull slowly at the root collar; the whole root has to come out."}, Cautions: always, RuleSets: RuleSets,
}

var foliar = &treatmentv1.Explanation{
	Choice: &treatmentv1.Choice{
		Method: commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, FormulationId: "glyphosate-3", Formulation: "glyphosate salt, 3 lb ae/gal", Active: "glyphosate",
		Carrier: "water", MixGAePerL: 7.2, Decision: commonv1.Decision_DECISION_CONDITIONAL, SignalWord: "CAUTION", EntryIntervalH: 12,
		ExclusionZoneFt: 25, Equipment: commonv1.Equipment_EQUIPMENT_BACKPACK,
	},
	Why: "Low volume foliar with glyphosate salt, 3 lb ae/gal: lawful under the conditions listed.", Findings: findings, Dates: dates,
	Steps: []string{"Cover the leaves: wet, not dripping."}, Cautions: append([]string{"Spray must not drift."}, always...),
	SecondPass: basalChoice, RuleSets: RuleSets,
}

var unknown = &treatmentv1.Explanation{
	Choice: hackChoice, Why: "Not decided. Hack and squirt would be next, but: the diameter is not known.", Dates: dates,
	Remedies: []string{"measure the diameter at breast height, or at the root collar of a small stem"}, Cautions: always, RuleSets: RuleSets,
}

var later = &treatmentv1.Explanation{
	Choice: hackChoice, Why: "Hack and squirt would be next, but the site's annual maximum of the active ingredient is used up by this season's share of the stems.",
	Dates:    &treatmentv1.Dates{TreatFrom: on(2032, 7, 15), TreatUntil: on(2032, 10, 15)},
	Remedies: []string{"treat it with the next season's share"}, Cautions: always, RuleSets: RuleSets,
}

var lawless = &treatmentv1.Explanation{
	Choice: basalChoice, Why: `Not decided. Basal bark would be next, but: no rule set governs "us/velmora/ossel-creek".`,
	Remedies: []string{`no rule set governs "us/velmora/ossel-creek"; activate one, or correct the place`}, Cautions: always, RuleSets: RuleSets,
}
