package treatment

import (
	"fmt"
	"slices"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Explanation is a plan in words: everything but the numbers of the row. It is
// worked out anew from the stem, not remembered from the plan.
type Explanation struct {
	Choice       *Choice
	Why          string
	Alternatives []Alternative
	Findings     []rules.Finding
	Dates        Dates
	Steps        []string
	Cautions     []string
	FollowUp     []string
	Remedies     []string
	Second       *Choice
}

// Choice is a method with what is applied.
type Choice struct {
	Method        rules.Method
	Equipment     rules.Equipment
	Formulation   *Formulation // nil when nothing is applied
	Recipe        *Recipe      // nil when nothing is applied
	Decision      rules.Decision
	EntryHours    int                  // the longest of catalogue and rules
	ExclusionZone quantity.Micrometres // the widest of the rules
	Words         string               // its rank in words
}

// Alternative is an option that was not chosen.
type Alternative struct {
	Method      rules.Method
	Formulation *Formulation // nil when it is the method that does not fit
	Decision    rules.Decision
	Reasons     []string
}

// Dates are civil dates at the place; no date where there is none.
type Dates struct {
	TreatFrom   civil.Date
	TreatUntil  civil.Date
	FellFrom    civil.Date
	InspectFrom civil.Date
	RetreatFrom civil.Date
}

// daysToFelling is the least wait between treatment and felling: 30 days (Rutgers
// Plant & Pest Advisory, tree-of-heaven timing).
const daysToFelling = 30

// Explain gives a plan in words.
func (p *Planner) Explain(stem *Stem, plan *Plan) Explanation {
	if plan.Outcome == Rejected {
		return Explanation{Why: "The row cannot be read as a stem."}
	}
	q := p.ask(stem, p.governing.On)
	options := p.optionsFor(stem)
	states := p.weigh(nil, &q, options)
	e := Explanation{Alternatives: p.alternatives(&q, options, states, plan.chosen)}
	if plan.chosen < 0 {
		e.Why = "No treatment fits this stem and is lawful here: " + mainReason(stem.Form, e.Alternatives) + ". " + leaveAlone(stem.Form)
		e.Remedies = remediesOf(states)
		e.Cautions = append(stem.Cautions(), alwaysCautions()...)
		e.Dates = p.waitForLeaves(&q)
		return e
	}
	o, s := &options[plan.chosen], &states[plan.chosen]
	if plan.Outcome == Deferred && s.status == open {
		s.refusals |= NotThisSeason
	}
	e.Findings = o.law.Explain(surroundingsOf(stem))
	e.Choice = o.choice(s, e.Findings)
	e.Why = p.why(plan, o, s, e.Findings, o.particulars(stem, s))
	e.Dates = p.dates(&q, o, plan)
	e.Steps = o.method.steps(&q, o.recipe)
	e.Cautions = append(stem.Cautions(), o.cautions(e.Choice)...)
	e.FollowUp = o.method.followUp(&q)
	e.Remedies = p.remedies(plan, s, e.Findings)
	e.Second = p.explainSecond(&q, plan)
	if e.Second != nil {
		e.FollowUp = append(e.FollowUp, fmt.Sprintf("Second pass, in the next season's window: %s on the larger stems that remain, prescribed anew on its date.", spaced(e.Second.Method)))
	}
	if _, larger := largerStems(stem); larger && e.Second == nil && plan.Outcome == Prescribed {
		e.FollowUp = append(e.FollowUp, "The patch's larger stems need a row of their own: by these numbers no treatment of them fits its annual maximum and its rules.")
	}
	for _, s := range p.governing.Overdue {
		e.Cautions = append(e.Cautions, fmt.Sprintf("Rule set %s %s is past the day by which its agency was to review it: ask whether it still stands.", s.ID, s.Version))
	}
	return e
}

func surroundingsOf(s *Stem) *rules.Surroundings {
	site := s.surroundings()
	return &site
}

// choice sums up an option with what the rules' findings add to it.
func (o *option) choice(s *state, findings []rules.Finding) *Choice {
	c := &Choice{
		Method: o.method.id(), Equipment: o.method.delivery().equipment, Formulation: o.formulation,
		Recipe: o.recipe, Decision: s.judgement.Decision, Words: s.rank.words(),
	}
	if o.formulation != nil {
		c.EntryHours = o.formulation.EntryHours
	}
	for _, f := range findings {
		switch effect := f.Row.Effect.(type) {
		case rules.EntryInterval:
			c.EntryHours = max(c.EntryHours, effect.Hours)
		case rules.ExclusionZone:
			c.ExclusionZone = max(c.ExclusionZone, effect.Radius)
		}
	}
	return c
}

func (p *Planner) why(plan *Plan, o *option, s *state, findings []rules.Finding, particulars []string) string {
	name := o.name()
	switch {
	case plan.Outcome == Prescribed:
		return fmt.Sprintf("%s: %s.", name, s.rank.words())
	case s.refusals.Has(NotThisSeason):
		return fmt.Sprintf("%s would be next, but %s: %s.", name, refusalTexts[NotThisSeason].text, strings.Join(particulars, "; "))
	case plan.Outcome == Undetermined:
		return fmt.Sprintf("Not decided. %s would be next, but: %s.", name, strings.Join(p.unknowns(s, findings), "; "))
	}
	return fmt.Sprintf("Not on %s. %s would be next, but: %s.", p.governing.On, name, strings.Join(append(closing(s, findings), particulars...), "; "))
}

// name is the option in words.
func (o *option) name() string {
	name := upperFirst(spaced(o.method.id()))
	if o.formulation != nil {
		name += " with " + o.formulation.Name
	}
	return name
}

// unknowns says what keeps an option from being decided.
func (p *Planner) unknowns(s *state, findings []rules.Finding) []string {
	var list []string
	for _, g := range p.governing.Gaps {
		list = append(list, g.Reason)
	}
	list = append(list, plain(s.refusals&unknowns)...)
	for _, f := range findings {
		if f.Decision == rules.Undetermined {
			list = append(list, fmt.Sprintf("%s/%s needs the %s", f.Set.ID, f.Row.ID, strings.Join(f.Missing, ", ")))
		}
	}
	return list
}

// closing says what keeps an option from being done on the day.
func closing(s *state, findings []rules.Finding) []string {
	list := plain(s.refusals &^ unknowns)
	for _, f := range findings {
		if f.Decision == rules.Prohibited {
			list = append(list, fmt.Sprintf("%s/%s: %s", f.Set.ID, f.Row.ID, f.Text()))
		}
	}
	return list
}

func plain(r Refusals) []string {
	var list []string
	r.each(func(one Refusals) { list = append(list, refusalTexts[one].text) })
	return list
}

// alternatives lists what was not chosen. A method that does not fit, whatever is
// applied, is listed once.
func (p *Planner) alternatives(q *question, options []option, states []state, chosen int) []Alternative {
	var list []Alternative
	for i := range options {
		o, s := &options[i], &states[i]
		if i == chosen {
			continue
		}
		a := Alternative{Method: o.method.id(), Formulation: o.formulation, Decision: s.judgement.Decision}
		if methodFit := o.method.fit(&q.traits); methodFit.firm() && methodFit != TooDense {
			if n := len(list); n > 0 && list[n-1].Method == a.Method && list[n-1].Formulation == nil {
				continue
			}
			a.Formulation, a.Reasons = nil, methodFit.Texts()
		} else {
			a.Reasons = p.reasons(q, o, s, chosen >= 0)
		}
		list = append(list, a)
	}
	return list
}

// reasons says why an option that fits by method was not chosen.
func (p *Planner) reasons(q *question, o *option, s *state, otherChosen bool) []string {
	reasons := append(s.refusals.Texts(), o.particulars(q.stem, s)...)
	if s.judgement.Decision >= rules.Undetermined {
		reasons = append(reasons, p.against(q, o, s)...)
	}
	if len(reasons) == 0 && otherChosen {
		reasons = append(reasons, "ranks lower: "+s.rank.words())
	}
	return reasons
}

// against is what the rules say against an option: what forbids it, then what is not
// decided.
func (p *Planner) against(q *question, o *option, s *state) []string {
	key := said{o.law, s.judgement.Key}
	if texts, known := p.work.said[key]; known {
		return texts
	}
	var texts []string
	findings := o.law.Explain(surroundingsOf(q.stem))
	for _, d := range []rules.Decision{rules.Prohibited, rules.Undetermined} {
		for _, f := range findings {
			if f.Decision == d {
				texts = append(texts, findingText(f))
			}
		}
	}
	if len(p.work.said) >= maxSaid {
		clear(p.work.said)
	}
	p.work.said[key] = texts
	return texts
}

// said is equal where the rules say the same of an option.
type said struct {
	law *rules.Narrowed
	key uint64
}

// maxSaid bounds what is remembered, so that memory does not depend on the number of
// rows.
const maxSaid = 4_000

// particulars names the limit or the trial that a reason speaks of.
func (o *option) particulars(stem *Stem, s *state) []string {
	var list []string
	if s.refusals.Has(WouldPassMaximum | NotThisSeason) {
		limit, source := o.limit(surroundingsOf(stem))
		list = append(list, fmt.Sprintf("at most %.4g lb ae of %s per acre in a calendar year [%s]", limit.PoundsPerAcre(), o.formulation.Active, source))
	}
	if s.refusals.Has(FailsInTrials) {
		list = append(list, s.rank.basis())
	}
	return list
}

func findingText(f rules.Finding) string {
	text := fmt.Sprintf("%s/%s: %s", f.Set.ID, f.Row.ID, f.Text())
	if len(f.Missing) > 0 {
		text += "; not known: " + strings.Join(f.Missing, ", ")
	}
	return text + " [" + f.Row.Citation + "]"
}

func leaveAlone(form rules.GrowthForm) string {
	if form == rules.Stump {
		return "Leave the stump, and treat its sprouts and suckers once they are in leaf and in their window."
	}
	return "Leave the stem uncut, and ask a licensed practitioner what can be done here."
}

// mainReason picks the reason against the method that one would think of first.
func mainReason(form rules.GrowthForm, list []Alternative) string {
	reason := "no option is at hand"
	for _, a := range list {
		if len(a.Reasons) == 0 {
			continue
		}
		reason = spaced(a.Method) + ": " + a.Reasons[0]
		if a.Method == thoughtOfFirst[form] {
			break
		}
	}
	return reason
}

var thoughtOfFirst = map[rules.GrowthForm]rules.Method{
	rules.Seedling: rules.HandPull, rules.RootSucker: rules.LowVolumeFoliar, rules.Sapling: rules.BasalBark,
	rules.Tree: rules.HackAndSquirt, rules.Stump: rules.CutStump, rules.StumpSprout: rules.LowVolumeFoliar,
}

func (p *Planner) remedies(plan *Plan, s *state, findings []rules.Finding) []string {
	if plan.Outcome == Prescribed {
		return nil
	}
	remedies := s.refusals.Remedies()
	for _, g := range p.governing.Gaps {
		remedies = append(remedies, g.Reason)
	}
	for _, f := range findings {
		if f.Decision == rules.Undetermined && len(f.Missing) > 0 {
			remedies = append(remedies, "find out the "+strings.Join(f.Missing, ", "))
		}
	}
	slices.Sort(remedies)
	return slices.Compact(remedies)
}

// remediesOf says what would change options that are all refused. Of one that is refused for
// good nothing does.
func remediesOf(states []state) []string {
	var all Refusals
	for i := range states {
		if s := &states[i]; s.judgement.Otherwise != rules.Prohibited && !(s.refusals &^ TooDense).lasting() { // TooDense refuses nothing
			all |= s.refusals
		}
	}
	remedies := all.Remedies()
	slices.Sort(remedies)
	return slices.Compact(remedies)
}

func (p *Planner) explainSecond(q *question, plan *Plan) *Choice {
	later, ok := largerStems(q.stem)
	if !ok || plan.Second.Stems == 0 {
		return nil
	}
	lq := p.ask(&later, p.governing.On)
	options := p.optionsFor(&later)
	states := p.weigh(nil, &lq, options)
	i := bestStanding(options, states)
	if i < 0 {
		return nil
	}
	return options[i].choice(&states[i], options[i].law.Explain(surroundingsOf(&later)))
}

func spaced(m rules.Method) string { return strings.ReplaceAll(m.String(), "_", " ") }

func upperFirst(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
