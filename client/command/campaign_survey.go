package command

import (
	"fmt"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// surveyCommands holds the commands below surveys.
type surveyCommands struct {
	Add     addSurvey     `cmd:"" help:"Keep a survey of a site: every stem, or plots as a sample."`
	Correct correctSurvey `cmd:"" help:"Correct a survey: what was kept before stays readable as an earlier version."`
	Show    showSurvey    `cmd:"" help:"Show a survey: what stands on the site, and of a sample how far that can be wrong."`
	List    listSurveys   `cmd:"" help:"List the surveys of a site."`
}

// counted is what was counted, as inventories.
type counted struct {
	Stems string   `placeholder:"FILE" help:"Inventory of every stem of the site, added to what the file states."`
	Plot  []string `sep:"none" placeholder:"ID=FILE" help:"Inventory of one plot of a sample, added to what the file states, as \"P3=p3.csv\" or with its stratum \"slope/P3=p3.csv\". May be given several times; a plot without stems stands in the file alone."`
}

// add adds the rows of the inventories to a survey, and gives the fields that it set.
func (a *counted) add(survey *campaignv1.Survey) ([]string, error) {
	var fields []string
	if a.Stems != "" {
		stems, err := stemsIn(a.Stems)
		if err != nil {
			return nil, err
		}
		survey.Stems, fields = append(survey.Stems, stems...), append(fields, "stems")
	}
	for _, one := range a.Plot {
		plot, path, ok := cutPlot(one)
		if !ok || survey.GetSample() == nil {
			return nil, misuse{fmt.Errorf("--plot %s: state ID=FILE or STRATUM/ID=FILE, and \"sample\" with its radius_m in the file", one)}
		}
		stems, err := stemsIn(path)
		if err != nil {
			return nil, err
		}
		plot.Stems = stems
		survey.Sample.Plots = append(survey.Sample.Plots, plot)
	}
	if len(a.Plot) > 0 {
		fields = append(fields, "sample")
	}
	return fields, nil
}

type addSurvey struct {
	Site string `arg:"" help:"Name of the site: sites/ID."`
	ID   string `arg:"" help:"Last part of its name: \"first\" makes sites/ID/surveys/first."`
	counted
	described
	written
}

// Run keeps a survey.
func (a *addSurvey) Run(r *run) error {
	survey := &campaignv1.Survey{}
	if _, err := a.read(survey); err != nil {
		return misuse{err}
	}
	if _, err := a.add(survey); err != nil {
		return err
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.CreateSurvey(r.ctx, &campaignv1.CreateSurveyRequest{Parent: a.Site, SurveyId: a.ID, Survey: survey, RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return surveyText(page.On(r.stdout), answer.GetSurvey()).Err()
	})
}

type correctSurvey struct {
	Name string `arg:"" help:"Name of the survey: sites/ID/surveys/ID."`
	counted
	described
	written
}

// Run keeps the next version of a survey.
func (a *correctSurvey) Run(r *run) error {
	survey := &campaignv1.Survey{}
	fields, err := a.read(survey)
	if err != nil {
		return misuse{err}
	}
	survey.Name = a.Name
	more, err := a.add(survey)
	if err != nil {
		return err
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.UpdateSurvey(r.ctx, &campaignv1.UpdateSurveyRequest{Survey: survey, UpdateMask: mask(append(fields, more...)), RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return surveyText(page.On(r.stdout), answer.GetSurvey()).Err()
	})
}

type showSurvey struct {
	Name    string `arg:"" help:"Name of the survey: sites/ID/surveys/ID."`
	Version int64  `placeholder:"N" help:"An earlier version; default the last."`
	JSON    bool   `name:"json" help:"Show everything as JSON instead."`
}

// Run shows a survey.
func (a *showSurvey) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.GetSurvey(r.ctx, &campaignv1.GetSurveyRequest{Name: a.Name, Version: a.Version})
		if err != nil {
			return err
		}
		if a.JSON {
			return whole(r, answer.GetSurvey())
		}
		return surveyText(page.On(r.stdout), answer.GetSurvey()).Err()
	})
}

type listSurveys struct {
	Site string `arg:"" help:"Name of the site: sites/ID."`
}

// Run lists surveys.
func (a *listSurveys) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		p := page.On(r.stdout)
		err := everyPage(func(token string) (string, error) {
			answer, err := c.Campaign.ListSurveys(r.ctx, &campaignv1.ListSurveysRequest{Parent: a.Site, PageToken: token})
			for _, s := range answer.GetSurveys() {
				surveyLine(p, s)
			}
			return answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		return p.Err()
	})
}

func surveyLine(p *page.Page, s *campaignv1.Survey) {
	day, _ := rulewire.DecodeDate(s.GetDate())
	what := wording.Count(len(s.GetStems()), "row")
	if n := len(s.GetSample().GetPlots()); n > 0 {
		what = fmt.Sprintf("a sample of %d plots", n)
	}
	p.Line("%s  version %d  %s  %s", s.GetName(), s.GetVersion(), day, what)
}
