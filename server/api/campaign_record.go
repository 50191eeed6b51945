package api

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
)

var records = kind[*campaignv1.Record]{
	word: recordKind, plural: "records", ofSite: true, blank: func() *campaignv1.Record { return &campaignv1.Record{} },
	output: names("ae_g", "active", "formulation_id", "method", "entry_end_time", "derivation", "duties", "breaches"), check: checkRecord, fill: fillRecord,
}

// CreateRecord keeps a use.
func (s *Campaign) CreateRecord(ctx context.Context, q *campaignv1.CreateRecordRequest) (*campaignv1.CreateRecordResponse, error) {
	t, err := create(ctx, s, &records, creation[*campaignv1.Record]{call: q, parent: q.GetParent(), id: q.GetRecordId(), request: q.GetRequestId(), thing: q.GetRecord()})
	return &campaignv1.CreateRecordResponse{Record: t}, err
}

// GetRecord gives a record.
func (s *Campaign) GetRecord(ctx context.Context, q *campaignv1.GetRecordRequest) (*campaignv1.GetRecordResponse, error) {
	t, err := get(ctx, s, &records, q.GetName(), q.GetVersion())
	return &campaignv1.GetRecordResponse{Record: t}, err
}

// UpdateRecord corrects a record: the next version takes the place of the one before,
// which stays in the log.
func (s *Campaign) UpdateRecord(ctx context.Context, q *campaignv1.UpdateRecordRequest) (*campaignv1.UpdateRecordResponse, error) {
	t, err := update(ctx, s, &records, change[*campaignv1.Record]{call: q, mask: q.GetUpdateMask(), request: q.GetRequestId(), thing: q.GetRecord()})
	return &campaignv1.UpdateRecordResponse{Record: t}, err
}

// ListRecords lists a site's records.
func (s *Campaign) ListRecords(ctx context.Context, q *campaignv1.ListRecordsRequest) (*campaignv1.ListRecordsResponse, error) {
	list, next, err := list(ctx, s, &records, listing{parent: q.GetParent(), size: q.GetPageSize(), token: q.GetPageToken()})
	return &campaignv1.ListRecordsResponse{Records: list, NextPageToken: next}, err
}

// Limits of a record, beyond which a number is a slip of the pen.
const (
	maxUseHours  = 24
	maxProduct   = 1e6 // millilitres
	maxMix       = 1e5 // litres
	maxTreatedM2 = 1e10
	maxReadings  = 100
	maxPersons   = 100
	maxOther     = 100
	maxWords     = 400 // of a field in words
)

func checkRecord(f *faults, p *campaignv1.Record) {
	f.resource("plan", p.GetPlan(), "plans")
	f.required("job_id", p.GetJobId(), "name the job of the plan that was carried out: nothing is applied without a prescription")
	begun, ended := f.moment("start_time", p.GetStartTime()), f.moment("end_time", p.GetEndTime())
	f.unless(!ended.Before(begun), "end_time", "is before start_time")
	f.unless(ended.Sub(begun) <= maxUseHours*time.Hour, "end_time", "is more than %d hours after start_time: keep a record of each day", maxUseHours)
	f.between("product_ml", p.ProductMl, 0, maxProduct, "millilitres")
	f.between("mix_l", p.MixL, 0, maxMix, "litres")
	f.unless(p.TreatedAreaM2 == nil || p.GetTreatedAreaM2() > 0 && p.GetTreatedAreaM2() <= maxTreatedM2, "treated_area_m2", "is %g: state above 0 and at most %g square metres", p.GetTreatedAreaM2(), float64(maxTreatedM2))
	f.between("shore_m", p.ShoreM, 0, 2*maxShore, "metres")
	f.usedRows(p)
	for field, s := range map[string]string{"ground": p.GetGround(), "registration_number": p.GetRegistrationNumber(), "product_name": p.GetProductName(), "lot_number": p.GetLotNumber()} {
		f.text(field, s, maxWords)
	}
	f.persons(p)
	f.conditions(p)
	f.unless(len(p.GetOther()) <= maxOther, "other", "has %d, at most %d are taken", len(p.GetOther()), maxOther)
	for word, answer := range p.GetOther() {
		f.text("other", word, maxWords)
		f.text(fmt.Sprintf("other[%s]", quoted(word)), answer, maxNotes)
	}
	f.text("notes", p.GetNotes(), maxNotes)
	f.corrected(p.GetVersion(), p.GetCorrection())
}

func (f *faults) usedRows(p *campaignv1.Record) {
	seen := map[string]bool{}
	f.unless(len(p.GetStemIds()) <= maxStems, "stem_ids", "has %d, at most %d are taken", len(p.GetStemIds()), maxStems)
	for i, id := range p.GetStemIds()[:min(len(p.GetStemIds()), maxStems)] {
		at := fmt.Sprintf("stem_ids[%d]", i)
		f.required(at, id, "name the row that was treated, or leave it out")
		f.unless(!seen[id], at, "%s is there twice: name it once", quoted(id))
		seen[id] = true
	}
}

func (f *faults) persons(p *campaignv1.Record) {
	f.unless(len(p.GetSupervised()) <= maxPersons, "supervised", "has %d, at most %d are taken", len(p.GetSupervised()), maxPersons)
	person := func(field string, who *campaignv1.Person) {
		if who == nil {
			return
		}
		f.required(field+".name", who.GetName(), "name the person")
		f.text(field+".number", who.GetNumber(), maxWords)
		word[rules.Standing](f, field+".standing", who.GetStanding())
		for i, c := range who.GetCategories() {
			word[rules.CertificationCategory](f, fmt.Sprintf("%s.categories[%d]", field, i), c)
		}
	}
	person("applicator", p.GetApplicator())
	person("supervisor", p.GetSupervisor())
	for i, who := range p.GetSupervised()[:min(len(p.GetSupervised()), maxPersons)] {
		person(fmt.Sprintf("supervised[%d]", i), who)
	}
}

// conditions reads weather, signs and notices.
func (f *faults) conditions(p *campaignv1.Record) {
	f.unless(len(p.GetWeatherChanges()) <= maxReadings, "weather_changes", "has %d, at most %d are taken", len(p.GetWeatherChanges()), maxReadings)
	for field, w := range map[string]*campaignv1.Weather{"start_weather.": p.GetStartWeather(), "end_weather.": p.GetEndWeather()} {
		if w != nil {
			f.weather(field, w)
		}
	}
	for i, w := range p.GetWeatherChanges()[:min(len(p.GetWeatherChanges()), maxReadings)] {
		f.weather(fmt.Sprintf("weather_changes[%d].", i), w)
	}
	for field, t := range map[string]*timestamppb.Timestamp{"posted_time": p.GetPostedTime(), "unposted_time": p.GetUnpostedTime()} {
		f.unless(t == nil || t.IsValid(), field, "is no time: state it as 2026-07-20T08:00:00-04:00, or leave it out")
	}
	f.unless(len(p.GetNotices()) <= maxPersons, "notices", "has %d, at most %d are taken", len(p.GetNotices()), maxPersons)
	for i, n := range p.GetNotices()[:min(len(p.GetNotices()), maxPersons)] {
		at := fmt.Sprintf("notices[%d].", i)
		f.required(at+"to", n.GetTo(), "name who was told")
		f.day(at+"date", n.GetDate())
		f.text(at+"by", n.GetBy(), maxWords)
	}
}

// fillRecord completes a use. What happened is kept, also where it should not have; but
// nothing is kept that no plan prescribed.
func fillRecord(f *filling[*campaignv1.Record]) error {
	p := f.thing
	var faults faults
	plan, job := f.job(p.GetPlan(), p.GetJobId())
	if job == nil {
		faults.add("record.job_id", "%s of %s is no job at %s: plan what is applied before it is applied", quoted(p.GetJobId()), quoted(p.GetPlan()), f.site.GetName())
		return faults.err()
	}
	rows := map[string]*campaignv1.PlannedRow{}
	for _, r := range job.GetRows() {
		rows[r.GetStemId()] = r
	}
	for i, id := range p.GetStemIds() {
		faults.unless(rows[id] != nil, fmt.Sprintf("record.stem_ids[%d]", i), "%s is none of the rows of the job: plan it", quoted(id))
	}
	faults.unless(!p.GetEndTime().AsTime().After(f.now.Add(5*time.Minute)), "record.end_time", "%s is in the future: keep a record once the work was done", p.GetEndTime().AsTime().Format(time.RFC3339))
	formulation := f.prescriber.catalogue.Formulation(job.GetChoice().GetFormulationId())
	applies := job.GetChoice().GetFormulationId() != ""
	faults.unless(!applies || p.ProductMl != nil && p.GetProductMl() > 0, "record.product_ml", "is missing: state the millilitres of product that were applied")
	faults.unless(!applies || p.MixL != nil && p.GetMixL() > 0, "record.mix_l", "is missing: state the litres of mix that were applied")
	faults.unless(applies || p.GetProductMl() == 0 && p.GetMixL() == 0, "record.product_ml", "is %g, and the job applies nothing: plan what was applied", p.GetProductMl())
	faults.unless(!applies || formulation != nil, "record.job_id", "applies %s, which is not in the catalogue of this server: start it with the --formulations that the plan was made with", quoted(job.GetChoice().GetFormulationId()))
	if err := faults.err(); err != nil {
		return err
	}
	p.Method = job.GetChoice().GetMethod()
	if applies {
		p.FormulationId, p.Active = formulation.ID, formulation.Active
		// Rounded up: what is held against a maximum is never understated.
		p.AeG = formulation.Strength.In(quantity.Microlitres(p.GetProductMl()*1000 + 0.999)).Grams()
	}
	u := &used{Campaign: f.Campaign, Record: p, plan: plan, job: job, before: f.without(p.GetName()), now: f.now}
	return u.complete(f.Context)
}

// without is what is kept of the site but for a record, in the version before.
func (h *history) without(record string) *history {
	earlier := *h
	earlier.records = slices.DeleteFunc(slices.Clone(h.records), func(r *campaignv1.Record) bool { return r.GetName() == record })
	return &earlier
}

// used is a use while it is completed.
type used struct {
	*Campaign
	*campaignv1.Record
	plan   *campaignv1.Plan
	job    *campaignv1.Job
	before *history
	now    time.Time

	on  civil.Date
	st  *standing
	ids []string
}

func (u *used) breach(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !slices.Contains(u.Breaches, text) {
		u.Breaches = append(u.Breaches, text)
	}
}

func (u *used) complete(ctx context.Context) error {
	zone := zoneOf(u.before.site)
	u.on = dayIn(u.GetStartTime().AsTime(), zone)
	// By its last day it counts: work over midnight belongs to that day's sums.
	u.st = u.standingOn(ctx, u.before, dayIn(u.GetEndTime().AsTime(), zone))
	if u.ids = u.GetStemIds(); len(u.ids) == 0 {
		u.ids = rowsOf(u.job)
	}
	u.Breaches, u.Duties = nil, nil
	law, err := u.derive(ctx)
	if err != nil {
		return err
	}
	u.entryEnds(law)
	u.judgeDuties(law, zone)
	u.againstJob()
	u.againstLaw(ctx, law)
	return nil
}

// againstJob holds the use against what was prescribed.
func (u *used) againstJob() {
	from, _ := rulewire.DecodeDate(u.job.GetTreatFrom())
	until := lastDay(u.plan, u.job)
	if u.on < from || u.st.day > until {
		u.breach("applied on %s, outside the opening of the job, %s to %s", u.on, from, until)
	}
	var product float64
	for _, r := range u.job.GetRows() {
		if slices.Contains(u.ids, r.GetStemId()) {
			product += r.GetProductMl()
		}
	}
	// A hundredth more is the error of measuring; common practice, no source.
	if applied := u.GetProductMl(); applied > product*1.01 {
		u.breach("applied %.4g mL of product, and %.4g mL were prescribed for these rows", applied, product)
	}
	if formulation := u.prescriber.catalogue.Formulation(u.GetFormulationId()); formulation != nil {
		u.againstMix(formulation)
		u.againstName(formulation)
	}
	u.againstFelling()
	var twice []string
	for _, other := range u.st.Uses {
		for _, id := range u.ids {
			seen := u.st.rowAt(id, u.on)
			if seen != nil && other.On >= seen.on && slices.Contains(other.Rows, id) && !slices.Contains(twice, id) {
				twice = append(twice, id)
			}
		}
	}
	if len(twice) > 0 {
		u.breach("treated %s again, which another record names, and nobody has looked since", strings.Join(twice, ", "))
	}
}

// againstFelling tells of rows of which no stem stood to be treated.
func (u *used) againstFelling() {
	if u.GetMethod() == commonv1.Method_METHOD_CUT_STUMP {
		return
	}
	var felled []string
	for _, v := range u.st.Visits {
		for _, id := range v.Felled {
			seen := u.st.rowAt(id, u.on)
			if v.On <= u.on && slices.Contains(u.ids, id) && (seen == nil || v.On >= seen.on) && !slices.Contains(felled, id) {
				felled = append(felled, id)
			}
		}
	}
	if len(felled) > 0 {
		u.breach("treated %s, felled before and not seen since, as if it stood: say which rows were treated in stem_ids; of those that were felled, %s", strings.Join(felled, ", "), surveySprouts)
	}
}

// What a mix may differ from that of its job before it is told; common practice, no source.
const (
	strongestMix = 1.05 // of the job's strength: measuring jugs and rounded figures
	weakestMix   = 0.8
	readingMl    = 0.5 // either way: nobody measures less
)

// againstMix holds the strength of the mix, by product and litres, against the job's.
func (u *used) againstMix(f *treatment.Formulation) {
	product, mix := u.GetProductMl(), u.GetMixL()*1000
	planned := u.job.GetChoice().GetMixGAePerL()
	strength := f.Strength.GramsPerLitre()
	stated := fmt.Sprintf("applied %.4g mL of product in %.4g L of mix", product, mix/1000)
	mixed := fmt.Sprintf("%s, %.4g g ae/L, and the job's mix has %.4g g ae/L", stated, product*strength/mix, planned)
	switch {
	case product-readingMl > mix+readingMl:
		u.breach("%s: a mix holds no more product than it measures, correct what is wrong", stated)
	case planned <= 0:
		u.breach("%s, and the plan does not tell how strong the job's mix is: nobody can say whether it was kept", stated)
	case (product-readingMl)*strength > (mix+readingMl)*planned*strongestMix:
		u.breach("%s: it was too strong", mixed)
	case (product+readingMl)*strength < (mix-readingMl)*planned*weakestMix:
		u.breach("%s: so weak a dose may not kill the roots, look again in the next growing season", mixed)
	}
}

// againstName holds the name on the label against other formulations: a name that the
// catalogue does not have may be that of any product.
func (u *used) againstName(f *treatment.Formulation) {
	is := func(other *treatment.Formulation) bool {
		name := strings.TrimSpace(u.GetProductName())
		return strings.EqualFold(name, other.Name) || strings.EqualFold(name, other.ID)
	}
	formulations := u.prescriber.catalogue.Formulations
	if i := slices.IndexFunc(formulations, func(other treatment.Formulation) bool { return is(&other) }); i >= 0 && !is(f) {
		u.breach("product_name is %s, and the job applies %s: state what was applied, or plan it", quoted(formulations[i].Name), quoted(f.Name))
	}
}
