package api

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/recordlog/derivation"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/record"
	"example.org/rootward/server/campaign/weather"
	"example.org/rootward/server/treatment"
)

// usedLaw is what the law of the day and place said of a use.
type usedLaw struct {
	*rules.Governing
	treatment rules.Treatment
	findings  []rules.Finding // of all rows, each once
	known     bool            // whether the treatment is
}

// derive keeps what the rule tables of the day and place say of the use, so that it can be
// judged again from them alone.
func (u *used) derive(ctx context.Context) (*usedLaw, error) {
	place := u.before.site.GetPlace()
	current := u.prescriber.current()
	governing := current.Govern(place, u.on)
	sets := map[string]*rules.Set{}
	var list []*rules.Set
	for _, ref := range governing.Sets {
		for _, set := range current.Sets {
			if set.Ref == ref {
				sets[ref.Digest], list = set, append(list, set)
			}
		}
	}
	if err := u.keepTables(ctx, sets); err != nil {
		return nil, err
	}
	// By the tables alone: who checks this later has no plugin to ask.
	law := &usedLaw{Governing: rules.Govern(place, u.on, list)}
	d := &campaignv1.Derivation{Date: rulewire.EncodeDate(u.on), Place: place}
	for _, ref := range law.Sets {
		d.RuleSets = append(d.RuleSets, rulewire.EncodeRef(ref))
	}
	u.Derivation = d
	for _, gap := range governing.Gaps {
		u.breach("what is the law of %s was not known when this was kept: %s", gap.Place, gap.Reason)
	}
	u.decide(ctx, law)
	return law, nil
}

// decide judges each kind of surroundings among the treated rows.
func (u *used) decide(ctx context.Context, law *usedLaw) {
	var f faults
	settings := u.standingSettings(&f)
	measuring := f.positions(u.plan.GetSettings())
	measuring.layers = u.prescriber.layers()
	by := map[string]*campaignv1.DerivedDecision{}
	for _, id := range u.ids {
		known := u.st.rowAt(id, u.on)
		if known == nil {
			u.breach("treated %s, which no survey and no visit up to the day names", id)
			continue
		}
		r := readStem(u.st.completed(known))
		measuring.measure(r, law.Governing, settings, nil)
		site := r.stem.Surroundings()
		t, ok := treatment.TreatmentOf(u.prescriber.catalogue, settings, f.granted("", u.before.site.GetGrantedReductions()), &r.stem, u.methodUsed(), u.GetFormulationId())
		if !ok {
			u.breach("what was done to %s is not known to the catalogue of this server", id)
			continue
		}
		if !law.known {
			law.treatment, law.known = t, true
			u.Derivation.Treatment = rulewire.EncodeTreatment(&t)
		} else if !proto.Equal(rulewire.EncodeTreatment(&t), u.Derivation.Treatment) {
			u.breach("%s is not like the other rows any more (its species or land use was corrected since it was planned), and was judged as they were: keep a record of its own", id)
		}
		wire := rulewire.EncodeSurroundings(&site)
		key := string(deterministic(wire))
		if by[key] == nil {
			decision, names := derivation.Judge(law.Governing, law.treatment, &site)
			by[key] = &campaignv1.DerivedDecision{Surroundings: wire, Decision: rulewire.EncodeDecision(decision), Rules: names}
			u.Derivation.Decisions = append(u.Derivation.Decisions, by[key])
			law.find(&site)
		}
		by[key].StemIds = append(by[key].StemIds, id)
	}
}

func (l *usedLaw) find(site *rules.Surroundings) {
	for _, f := range l.Narrow(l.treatment).Explain(site) {
		if !slices.ContainsFunc(l.findings, func(other rules.Finding) bool { return other.Set == f.Set && other.Row == f.Row }) {
			l.findings = append(l.findings, f)
		}
	}
}

func (u *used) methodUsed() rules.Method {
	m, _ := rulewire.Decode[rules.Method](u.GetMethod())
	return m
}

// standingSettings are the plan's, with the standing of who did it: of the supervisor where
// there was one.
func (u *used) standingSettings(f *faults) *treatment.Settings {
	settings := f.settings(u.plan.GetSettings(), u.prescriber.catalogue)
	who := u.GetApplicator()
	if u.GetSupervisor() != nil {
		who = u.GetSupervisor()
	}
	settings.Standing = word[rules.Standing](f, "", who.GetStanding())
	settings.Categories = rules.OneOf[rules.CertificationCategory](0)
	var list []rules.CertificationCategory
	for _, c := range who.GetCategories() {
		list = append(list, word[rules.CertificationCategory](f, "", c))
	}
	settings.Categories = rules.AnyOf(list...)
	return settings
}

func nameOf(f *rules.Finding) string { return f.Set.ID + "/" + f.Row.ID }

// entryEnds is when people may enter again: after the longest interval of plan and rules.
func (u *used) entryEnds(law *usedLaw) {
	hours := int(u.job.GetChoice().GetEntryIntervalH())
	for i := range law.findings {
		if e, ok := law.findings[i].Row.Effect.(rules.EntryInterval); ok {
			hours = max(hours, e.Hours)
		}
	}
	if u.GetFormulationId() != "" {
		u.EntryEndTime = timestamppb.New(u.GetEndTime().AsTime().Add(time.Duration(hours) * time.Hour))
	}
}

// judgeDuties holds the record against what the rules ask of it.
func (u *used) judgeDuties(law *usedLaw, zone *time.Location) {
	r := &record.Record{
		Facts: u.facts(), Other: u.GetOther(), Kept: u.now.In(zone),
		Begun: u.GetStartTime().AsTime().In(zone), Ended: u.GetEndTime().AsTime().In(zone),
	}
	for i := range law.findings {
		f := &law.findings[i]
		rule, ok := f.Row.Effect.(rules.Record)
		if !ok {
			continue
		}
		d := r.Judge(&rule)
		duty := &campaignv1.RecordDuty{Rule: nameOf(f), Source: f.Row.Citation, Fields: d.Fields, Missing: d.Missing, OnTime: d.OnTime}
		if !d.Due.IsZero() {
			duty.DueTime = timestamppb.New(d.Due)
		}
		if !d.KeepUntil.IsZero() {
			duty.KeepUntil = rulewire.EncodeDate(civil.Of(d.KeepUntil.Date()))
		}
		u.Duties = append(u.Duties, duty)
	}
}

// facts are what the record tells.
func (u *used) facts() map[record.Fact]bool {
	site, start := u.before.site, u.GetStartWeather()
	who := u.GetApplicator()
	return map[record.Fact]bool{
		record.Product: u.GetProductName() != "", record.Registration: u.GetRegistrationNumber() != "", record.Lot: u.GetLotNumber() != "",
		record.Amount: u.GetProductMl() > 0, record.Area: u.TreatedAreaM2 != nil || site.AreaM2 != nil,
		record.Place: site.GetLocation() != "" || site.LatitudeDeg != nil, record.Site: len(u.ids) > 0, record.Method: u.GetMethod() != commonv1.Method_METHOD_UNSPECIFIED,
		record.Start: u.GetStartTime() != nil, record.End: u.GetEndTime() != nil,
		record.Applicator: who.GetName() != "", record.Certificate: who.GetNumber() != "",
		record.Supervised:   u.GetSupervisor() == nil || len(u.GetSupervised()) > 0,
		record.CustomerName: site.GetCustomerName() != "", record.CustomerAddress: site.GetCustomerAddress() != "",
		record.WindStart: start.GetWindMS() > 0 || start != nil && start.WindMS != nil, record.DirectionStart: start != nil && start.WindFromDeg != nil,
		record.WindChanges: hasWind(u.GetEndWeather()) && allHaveWind(u.GetWeatherChanges()),
		record.Temperature: start != nil && start.TemperatureC != nil, record.Humidity: start != nil && start.HumidityPercent != nil,
		record.Posted: u.GetPostedTime() != nil, record.Told: len(u.GetNotices()) > 0,
	}
}

func hasWind(w *campaignv1.Weather) bool { return w != nil && w.WindMS != nil && w.WindFromDeg != nil }

func allHaveWind(list []*campaignv1.Weather) bool {
	return !slices.ContainsFunc(list, func(w *campaignv1.Weather) bool { return !hasWind(w) })
}

// againstLaw names departures from the law and from limits of the day.
func (u *used) againstLaw(ctx context.Context, law *usedLaw) {
	for _, d := range u.GetDerivation().GetDecisions() {
		switch d.GetDecision() {
		case commonv1.Decision_DECISION_PROHIBITED:
			u.breach("prohibited on %s by %s: %s", u.on, strings.Join(d.GetRules(), ", "), strings.Join(d.GetStemIds(), ", "))
		case commonv1.Decision_DECISION_UNDETERMINED:
			u.breach("nobody can say whether it was allowed on %s, by %s: %s", u.on, strings.Join(d.GetRules(), ", "), strings.Join(d.GetStemIds(), ", "))
		}
	}
	for i := range law.findings {
		f := &law.findings[i]
		if n, ok := f.Row.Effect.(rules.Notice); ok && !u.told(&n) {
			u.breach("no notice to %s is on record that was given %s before %s, as %s asks", n.To, daysBefore(&n), u.on, nameOf(f))
		}
	}
	u.againstWeather(ctx, law)
	for _, t := range u.totalsWith(u.Record) {
		switch {
		case t.AppliedAeG == nil || t.LimitAeG == nil:
			u.breach("nobody can say whether the annual maximum of %s is passed: %s [%s]", t.GetActive(), t.GetUnknown(), t.GetSource())
		case t.GetAppliedAeG() > t.GetLimitAeG():
			u.breach("passes the annual maximum of %s: %.4g g ae of %.4g g in %d [%s]", t.GetActive(), t.GetAppliedAeG(), t.GetLimitAeG(), t.GetYear(), t.GetSource())
		}
	}
}

func daysBefore(n *rules.Notice) string {
	if n.MaxDays > 0 {
		return fmt.Sprintf("%d to %d days", n.MinDays, n.MaxDays)
	}
	return "at least " + rules.Several(n.MinDays, "day")
}

// told reports whether a notice was given in the time that a rule asks for, to anybody: in
// which words the record names them nobody can tell.
func (u *used) told(n *rules.Notice) bool {
	return slices.ContainsFunc(u.GetNotices(), func(g *campaignv1.GivenNotice) bool {
		on, err := rulewire.DecodeDate(g.GetDate())
		days := int(u.on - on)
		return err == nil && days >= n.MinDays && (n.MaxDays == 0 || days <= n.MaxDays)
	})
}

// againstWeather holds the weather of the record against the limits of the day. Whatever
// the rules limit and the record does not show is named, also where nothing was written down.
func (u *used) againstWeather(ctx context.Context, law *usedLaw) {
	if u.GetFormulationId() == "" {
		return
	}
	var f faults
	day := &weather.Day{Done: true, Rules: weatherRules(law.findings)}
	day.Start = u.GetStartTime().AsTime()
	day.For = u.GetEndTime().AsTime().Sub(day.Start)
	for _, w := range append(slices.Clone(u.GetWeatherChanges()), u.GetEndWeather()) {
		if w != nil {
			day.Forecast = append(day.Forecast, f.weather("", w))
		}
	}
	day.Written = slices.Clone(day.Forecast)
	if u.GetStartWeather() != nil {
		day.Written = append(day.Written, f.weather("", u.GetStartWeather()))
	}
	for _, c := range u.checkDay(ctx, day, u.before, u.plan, u.job).GetChecks() {
		// Of the opening and the prescription is told apart; neither has a value to measure.
		switch {
		case c.GetWhat() == weather.WindowCheck:
		case c.GetVerdict() == campaignv1.Verdict_VERDICT_NO_GO && c.Value != nil:
			u.breach("%s: %s [%s]", c.GetWhat(), c.GetWhy(), c.GetSource())
		case c.GetVerdict() == campaignv1.Verdict_VERDICT_UNKNOWN && strings.HasPrefix(c.GetWhat(), weather.ByRule):
			u.breach("nobody can say whether it was kept: %s: %s [%s]", c.GetWhat(), c.GetWhy(), c.GetSource())
		}
	}
}
