package api

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/weather"
	"example.org/rootward/server/treatment"
)

// dayLaw is what the law of a day says of a job that was planned before.
type dayLaw struct {
	plan       weather.Check  // whether the job is still what is prescribed
	weather    []weather.Rule // what it asks of weather and hours
	conditions []string       // what it asks for besides
	documents  []weather.Check

	planned  *campaignv1.Plan
	job      *campaignv1.Job
	day      civil.Date
	words    map[uint64]*treatment.Explanation
	at       map[string]int // places in weather, by rule
	said     map[string]bool
	governed []rules.Ref
}

const sourceAnew = "prescribed anew by the rules, settings and records of the day"

// dayLaw prescribes the rows of a job anew, as the plan would, on the ground as it is seen
// on the day.
func (s *Campaign) dayLaw(ctx context.Context, st *standing, plan *campaignv1.Plan, job *campaignv1.Job, day *weather.Day) *dayLaw {
	l := &dayLaw{
		plan:    weather.Check{What: "plan", Verdict: weather.Go, Why: "the job is prescribed as it was planned", Source: sourceAnew},
		planned: plan, job: job, day: st.day, words: map[uint64]*treatment.Explanation{}, at: map[string]int{}, said: map[string]bool{},
	}
	rows := l.rows(st, day)
	applied, unknown := st.appliedInYear()
	if unknown != "" {
		l.says(weather.Unknown, unknown)
	}
	if len(rows) == 0 || unknown != "" {
		return l
	}
	var f faults
	settings := f.settings(plan.GetSettings(), st.catalogue)
	if id := job.GetChoice().GetFormulationId(); id != "" {
		settings.Formulations = []string{id}
	}
	if len(f.list) > 0 || len(settings.Check(st.catalogue)) > 0 {
		l.says(weather.Unknown, "the catalogue no longer has what was planned: plan anew")
		return l
	}
	l.prescribe(s.daySession(ctx, st, plan, settings, applied), rows)
	l.compare(plan)
	l.told(st.day)
	return l
}

// checks are those of the plan and of its documents.
func (l *dayLaw) checks() []weather.Check { return append([]weather.Check{l.plan}, l.documents...) }

// says takes a worse verdict on the plan.
func (l *dayLaw) says(v weather.Verdict, why string) {
	if v > l.plan.Verdict {
		l.plan.Verdict, l.plan.Why = v, why
	}
}

// rows are those of the job that are still to be treated, on the ground as it is today.
func (l *dayLaw) rows(st *standing, day *weather.Day) []*treatmentv1.Stem {
	var rows []*treatmentv1.Stem
	var cut []string
	due := st.now().Due
	for _, id := range rowsOf(l.job) {
		r := st.rows[id]
		switch {
		case r == nil:
			l.says(weather.Unknown, fmt.Sprintf("no survey and no visit up to the day names row %s: survey it, and plan anew", quoted(id)))
		case st.now().Cut[id].Known():
			cut = append(cut, fmt.Sprintf("%s on %s", quoted(id), st.now().Cut[id]))
		case slices.Contains(due, id):
			p := proto.CloneOf(st.completed(r))
			p.Bark, p.Soil = encodeState(p.Bark, day.Bark), encodeState(p.Soil, day.Soil)
			rows = append(rows, p)
		}
	}
	if len(rows) == 0 {
		l.says(weather.NoGo, "none of the job's rows is still to be treated")
	}
	l.leaveOut(cut, len(rows) > 0)
	return rows
}

// leaveOut names rows of which no stem stands to be treated; others may still stand.
func (l *dayLaw) leaveOut(cut []string, others bool) {
	if len(cut) == 0 {
		return
	}
	c := weather.Check{What: "felled rows", Verdict: weather.NoGo, Source: "the visits and records of the site"}
	c.Why = fmt.Sprintf("felled before a treatment, and not seen since: %s; do not treat them, %s", strings.Join(cut, ", "), surveySprouts)
	if others {
		c.Verdict = weather.Caution
	}
	l.documents = append(l.documents, c)
}

// encodeState writes the state of the day in the place of the survey's.
func encodeState[E ~int32, V rules.Vocabulary](_ E, v V) E { return rulewire.Encode[E](v) }

// anew is a session with all that it prescribes for.
type anew struct {
	*session
	law  *rules.Governing
	site *site
}

func (s *Campaign) daySession(ctx context.Context, st *standing, plan *campaignv1.Plan, settings *treatment.Settings, applied amounts) *anew {
	var f faults
	kept := st.history.site
	area, _ := f.real("", siteArea, kept.AreaM2)
	at := &site{place: kept.GetPlace(), facts: f.position("", kept.LatitudeDeg, kept.LongitudeDeg, kept.ElevationM), Site: treatment.Site{
		ID: kept.GetName(), Area: quantity.SquareMillimetres(area), Applied: applied, Granted: f.granted("", kept.GetGrantedReductions()),
	}}
	b := newSession(st.catalogue, s.prescriber.current(), st.day, settings)
	b.desk = newDesk(settings)
	b.measuring = f.positions(plan.GetSettings())
	b.measuring.layers = s.prescriber.layers()
	return &anew{session: b, law: b.lawAt(ctx, at), site: at}
}

// prescribe holds what is prescribed for each row against what was planned.
func (l *dayLaw) prescribe(b *anew, rows []*treatmentv1.Stem) {
	l.governed = b.law.Sets
	var stems []treatment.Stem
	for _, p := range rows {
		r := readStem(p)
		if len(r.all(b.catalogue)) > 0 {
			l.says(weather.Unknown, fmt.Sprintf("row %s cannot be read as a stem: correct the survey or the visit", quoted(p.GetStemId())))
			continue
		}
		b.measuring.measure(r, b.law, b.settings, nil)
		stems = append(stems, r.stem)
	}
	plans, planner := b.first(b.catalogue, b.law).PlanAll(b.site.Site, stems)
	for i := range plans {
		e := l.words[plans[i].Key]
		if e == nil {
			words := planner.Explain(&stems[i], &plans[i])
			e = &words
			l.words[plans[i].Key] = e
			l.note(e)
		}
		l.hold(stems[i].ID, plans[i].Outcome, e)
	}
}

// hold compares one row.
func (l *dayLaw) hold(id string, outcome treatment.Outcome, e *treatment.Explanation) {
	row := "row " + quoted(id) + ": "
	switch {
	case outcome == treatment.Deferred:
		l.says(weather.NoGo, row+e.Why)
	case outcome != treatment.Prescribed:
		l.says(weather.Unknown, row+e.Why)
	case !l.isPlanned(e.Choice):
		l.says(weather.Unknown, row+"on this day something else is prescribed than was planned: plan anew. "+e.Why)
	}
}

func (l *dayLaw) isPlanned(c *treatment.Choice) bool {
	var id string
	if c.Formulation != nil {
		id = c.Formulation.ID
	}
	planned, known := rulewire.Decode[rules.Method](l.job.GetChoice().GetMethod())
	return known && c.Method == planned && id == l.job.GetChoice().GetFormulationId()
}

// note sorts what the rules ask for of the treatment that was planned.
func (l *dayLaw) note(e *treatment.Explanation) {
	if e.Choice == nil || !l.isPlanned(e.Choice) {
		return
	}
	for i := range e.Findings {
		f := &e.Findings[i]
		switch f.Row.Effect.(type) {
		case rules.WeatherLimit, rules.DailyHours:
			l.limits(f)
			continue
		case rules.Permit:
			l.permit(f)
		}
		if f.Decision == rules.Conditional {
			l.ask(f.Text() + ". " + sourceOf(f))
		}
	}
	for _, caution := range e.Cautions {
		l.ask(caution)
	}
}

func sourceOf(f *rules.Finding) string {
	return f.Row.Citation + ", " + f.Set.ID + "/" + f.Row.ID
}

// permit says whether the plan has a document in hand that a rule asks for.
func (l *dayLaw) permit(f *rules.Finding) {
	asked := f.Row.Effect.(rules.Permit)
	c := weather.Check{
		What: "permit", Verdict: weather.Unknown, Source: sourceOf(f),
		Why: fmt.Sprintf("the plan does not have %s in hand: get it, and plan anew with it", asked.Name),
	}
	if l.said[c.Source] {
		return
	}
	l.said[c.Source] = true
	for _, held := range l.planned.GetPermits() {
		if held.GetPermit() != asked.Name || held.GetSite() != "" && held.GetSite() != l.job.GetSite() {
			continue
		}
		until, err := rulewire.DecodeDate(held.GetValidUntil())
		if held.GetValidUntil() == nil || err == nil && until >= l.day {
			c.Verdict, c.Why = weather.Go, asked.Name+": in hand, as the plan states"
			break
		}
		if err == nil {
			c.Verdict, c.Why = weather.NoGo, fmt.Sprintf("%s ran out at the end of %s: renew it, and plan anew with it", asked.Name, until)
		}
	}
	l.documents = append(l.documents, c)
}

// told says whether the notices of the job are for the day.
func (l *dayLaw) told(day civil.Date) {
	mine := func(n *campaignv1.PlannedNotice) bool { return n.GetJobId() == l.job.GetJobId() }
	if !slices.ContainsFunc(l.planned.GetNotices(), mine) {
		return
	}
	c := weather.Check{What: "notices", Verdict: weather.Go, Why: "the plan has work or a spare day for them on this day: see that they were sent", Source: "the plan's notices"}
	if !slices.ContainsFunc(l.planned.GetShifts(), func(s *campaignv1.Shift) bool {
		on, err := rulewire.DecodeDate(s.GetDate())
		return s.GetJobId() == l.job.GetJobId() && err == nil && on == day
	}) {
		c.Verdict, c.Why = weather.Caution, "the plan has no work of this job on this day, and so no notice of it: see that whoever has to be told was told of this day, in time"
	}
	l.documents = append(l.documents, c)
}

func (l *dayLaw) limits(f *rules.Finding) {
	name := f.Set.ID + "/" + f.Row.ID
	at, known := l.at[name]
	if !known {
		at = len(l.weather)
		l.at[name] = at
		l.weather = append(l.weather, weatherRule(f))
	}
	l.weather[at].Uncertain = l.weather[at].Uncertain && !f.Certain
}

func weatherRule(f *rules.Finding) weather.Rule {
	return weather.Rule{Effect: f.Row.Effect, During: f.Row.During, Text: f.Row.Text(), Source: sourceOf(f), Uncertain: !f.Certain}
}

// weatherRules are the findings that limit the weather or the hours of the day.
func weatherRules(findings []rules.Finding) []weather.Rule {
	var list []weather.Rule
	for i := range findings {
		switch findings[i].Row.Effect.(type) {
		case rules.WeatherLimit, rules.DailyHours:
			list = append(list, weatherRule(&findings[i]))
		}
	}
	return list
}

func (l *dayLaw) ask(text string) {
	if !l.said[text] {
		l.said[text] = true
		l.conditions = append(l.conditions, text)
	}
}

// compare says where other rules govern than when the plan was made.
func (l *dayLaw) compare(plan *campaignv1.Plan) {
	then := map[string]string{}
	for _, ref := range plan.GetRuleSets() {
		then[ref.GetRuleSetId()] = ref.GetDigest()
	}
	if len(then) == 0 {
		l.says(weather.Caution, "the plan does not name the rules that it was made under; those of the day prescribe the same")
		return
	}
	for _, ref := range l.governed {
		if then[ref.ID] == ref.Digest {
			continue
		}
		changed := fmt.Sprintf("the law has changed since the plan: %s %s governs now", ref.ID, ref.Version)
		if !l.plan.Verdict.LetsWork() {
			l.plan.Why += "; " + changed
			continue
		}
		l.says(weather.Caution, changed+", and prescribes the same")
	}
}
