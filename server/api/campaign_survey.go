package api

import (
	"context"
	"fmt"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/rulewire"
)

var surveys = kind[*campaignv1.Survey]{
	word: surveyKind, plural: "surveys", ofSite: true, blank: func() *campaignv1.Survey { return &campaignv1.Survey{} },
	output: names("estimates", "cautions"), check: checkSurvey, fill: fillSurvey,
}

// CreateSurvey keeps what was counted.
func (s *Campaign) CreateSurvey(ctx context.Context, q *campaignv1.CreateSurveyRequest) (*campaignv1.CreateSurveyResponse, error) {
	t, err := create(ctx, s, &surveys, creation[*campaignv1.Survey]{call: q, parent: q.GetParent(), id: q.GetSurveyId(), request: q.GetRequestId(), thing: q.GetSurvey()})
	return &campaignv1.CreateSurveyResponse{Survey: t}, err
}

// GetSurvey gives a survey.
func (s *Campaign) GetSurvey(ctx context.Context, q *campaignv1.GetSurveyRequest) (*campaignv1.GetSurveyResponse, error) {
	t, err := get(ctx, s, &surveys, q.GetName(), q.GetVersion())
	return &campaignv1.GetSurveyResponse{Survey: t}, err
}

// UpdateSurvey corrects a survey.
func (s *Campaign) UpdateSurvey(ctx context.Context, q *campaignv1.UpdateSurveyRequest) (*campaignv1.UpdateSurveyResponse, error) {
	t, err := update(ctx, s, &surveys, change[*campaignv1.Survey]{call: q, mask: q.GetUpdateMask(), request: q.GetRequestId(), thing: q.GetSurvey()})
	return &campaignv1.UpdateSurveyResponse{Survey: t}, err
}

// ListSurveys lists a site's surveys.
func (s *Campaign) ListSurveys(ctx context.Context, q *campaignv1.ListSurveysRequest) (*campaignv1.ListSurveysResponse, error) {
	list, next, err := list(ctx, s, &surveys, listing{parent: q.GetParent(), size: q.GetPageSize(), token: q.GetPageToken()})
	return &campaignv1.ListSurveysResponse{Surveys: list, NextPageToken: next}, err
}

// Limits of a sample, beyond which a number is a slip of the pen.
const (
	maxPlots         = 1_000
	maxStrata        = 100
	maxPlotRadius    = 100  // metres
	maxWantedPercent = 1000 // of error
)

func checkSurvey(f *faults, p *campaignv1.Survey) {
	f.day("date", p.GetDate())
	f.unless(len(p.GetStems()) <= maxStems, "stems", "has %d, at most %d are taken: open a second site", len(p.GetStems()), maxStems)
	f.unless(p.GetSample() == nil || len(p.GetStems()) == 0, "sample", "stands beside stems: either every stem was counted, or plots were taken; keep two surveys")
	f.surveyed("stems", p.GetStems(), map[string]bool{})
	if p.GetSample() != nil {
		f.sample(p.GetSample())
	}
	f.unless(len(p.GetObservers()) <= maxObservers, "observers", "has %d, at most %d are taken", len(p.GetObservers()), maxObservers)
	for i, name := range p.GetObservers() {
		f.required(fmt.Sprintf("observers[%d]", i), name, "name who was there, or leave it out")
	}
	f.text("notes", p.GetNotes(), maxNotes)
	f.corrected(p.GetVersion(), p.GetCorrection())
}

// surveyed checks what can be told of stems without the catalogue.
func (f *faults) surveyed(field string, stems []*treatmentv1.Stem, seen map[string]bool) {
	for i, p := range stems[:min(len(stems), maxStems)] {
		at := fmt.Sprintf("%s[%d].", field, i)
		id := p.GetStemId()
		f.required(at+"stem_id", id, "give the row an id, the same at every survey and visit")
		f.unless(id == "" || !seen[id], at+"stem_id", "%s is there twice: give each row an id of its own", quoted(id))
		seen[id] = true
		for _, fault := range readStem(p).list {
			f.add(at+fault.Field, "%s", fault.Problem)
		}
	}
}

func (f *faults) sample(p *campaignv1.PlotSample) {
	f.unless(p.GetRadiusM() > 0 && p.GetRadiusM() <= maxPlotRadius, "sample.radius_m", "is %g: state above 0 and at most %d metres", p.GetRadiusM(), maxPlotRadius)
	f.between("sample.confidence_percent", p.ConfidencePercent, 50.1, 99.9, "percent")
	f.between("sample.wanted_error_percent", p.WantedErrorPercent, 0.1, maxWantedPercent, "percent")
	f.unless(len(p.GetPlots()) > 0 && len(p.GetPlots()) <= maxPlots, "sample.plots", "has %d: state 1 to %d, those without stems, too", len(p.GetPlots()), maxPlots)
	f.unless(len(p.GetStrata()) <= maxStrata, "sample.strata", "has %d, at most %d are taken", len(p.GetStrata()), maxStrata)
	strata := map[string]bool{}
	for i, s := range p.GetStrata()[:min(len(p.GetStrata()), maxStrata)] {
		at := fmt.Sprintf("sample.strata[%d].", i)
		f.required(at+"stratum_id", s.GetStratumId(), "give the stratum an id")
		f.unless(!strata[s.GetStratumId()], at+"stratum_id", "%s is there twice: give each stratum an id of its own", quoted(s.GetStratumId()))
		f.unless(s.GetAreaM2() > 0 && s.GetAreaM2() <= 1e12, at+"area_m2", "is %g: state the ground of the stratum in square metres", s.GetAreaM2())
		strata[s.GetStratumId()] = true
	}
	plots, stems := map[string]bool{}, map[string]bool{}
	total := 0
	for i, plot := range p.GetPlots()[:min(len(p.GetPlots()), maxPlots)] {
		at := fmt.Sprintf("sample.plots[%d].", i)
		f.required(at+"plot_id", plot.GetPlotId(), "give the plot an id")
		f.unless(!plots[plot.GetPlotId()], at+"plot_id", "%s is there twice: give each plot an id of its own", quoted(plot.GetPlotId()))
		plots[plot.GetPlotId()] = true
		f.unless(len(strata) == 0 || strata[plot.GetStratumId()], at+"stratum_id", "%s is none of the strata: correct it, or add the stratum", quoted(plot.GetStratumId()))
		f.unless(len(strata) > 0 || plot.GetStratumId() == "", at+"stratum_id", "%s is stated, and there are no strata: add them with their ground", quoted(plot.GetStratumId()))
		total += len(plot.GetStems())
		f.surveyed(at+"stems", plot.GetStems(), stems)
	}
	f.unless(total <= maxStems, "sample.plots", "have %d rows, at most %d are taken: state like stems as one row with count", total, maxStems)
}

// fillSurvey reads the stems by the catalogue, and says what a sample tells of the site.
func fillSurvey(f *filling[*campaignv1.Survey]) error {
	p := f.thing
	on, _ := rulewire.DecodeDate(p.GetDate())
	var faults faults
	today := dayIn(f.now, zoneOf(f.site))
	faults.unless(on <= today.AddDays(1), "survey.date", "%s is after %s: keep a survey once it was made", on, today)
	for i, stem := range p.GetStems() {
		faults.known(fmt.Sprintf("survey.stems[%d].", i), stem, f.prescriber)
	}
	for i, plot := range p.GetSample().GetPlots() {
		for j, stem := range plot.GetStems() {
			faults.known(fmt.Sprintf("survey.sample.plots[%d].stems[%d].", i, j), stem, f.prescriber)
		}
	}
	if err := faults.err(); err != nil || p.GetSample() == nil {
		return err
	}
	return f.estimate(f.Context, f.history, p)
}

// known checks a stem by the catalogue.
func (f *faults) known(field string, stem *treatmentv1.Stem, by *Treatment) {
	for _, fault := range readStem(stem).all(by.catalogue) {
		f.add(field+fault.Field, "%s", fault.Problem)
	}
}
