package command

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client"
	"example.org/rootward/client/calendar"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
	"example.org/rootward/client/report"
	"example.org/rootward/client/wording"
)

// planCommands holds the commands below plans.
type planCommands struct {
	Make makePlan  `cmd:"" help:"Plan a season: what is prescribed on which sites, who does it and when, whom to tell, and what does not fit. A plan is never changed: make a new one."`
	Show showPlan  `cmd:"" help:"Show a plan."`
	List listPlans `cmd:"" help:"List the plans."`
}

// shown is how a plan is shown.
type shown struct {
	OutICS string         `name:"out-ics" placeholder:"FILE.ics" help:"Write the days as iCalendar (RFC 5545)."`
	Units  measure.System `default:"us" placeholder:"us|metric" help:"Units: us or metric."`
	JSON   bool           `name:"json" help:"Show everything as JSON instead."`
}

func (a *shown) show(r *run, p *campaignv1.Plan) error {
	if a.OutICS != "" {
		if err := writeCalendar(a.OutICS, p); err != nil {
			return err
		}
	}
	if a.JSON {
		return whole(r, p)
	}
	return planText(page.On(r.stdout), p, a.Units).Err()
}

func writeCalendar(path string, p *campaignv1.Plan) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(calendar.Write(f, p), f.Close())
}

type makePlan struct {
	ID string `arg:"" help:"Last part of its name: \"summer-2026\" makes plans/summer-2026."`
	shown
	described
	written
}

// Run makes a plan.
func (a *makePlan) Run(r *run) error {
	plan := &campaignv1.Plan{}
	if _, err := a.read(plan); err != nil {
		return misuse{err}
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.CreatePlan(r.ctx, &campaignv1.CreatePlanRequest{PlanId: a.ID, Plan: plan, RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return a.show(r, answer.GetPlan())
	})
}

type showPlan struct {
	Name string `arg:"" help:"Name of the plan: plans/ID."`
	shown
}

// Run shows a plan.
func (a *showPlan) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.GetPlan(r.ctx, &campaignv1.GetPlanRequest{Name: a.Name})
		if err != nil {
			return err
		}
		return a.show(r, answer.GetPlan())
	})
}

type listPlans struct{}

// Run lists plans.
func (*listPlans) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		p := page.On(r.stdout)
		err := everyPage(func(token string) (string, error) {
			answer, err := c.Campaign.ListPlans(r.ctx, &campaignv1.ListPlansRequest{PageToken: token})
			for _, plan := range answer.GetPlans() {
				p.Line("%s  %s  %s, %s  %s", plan.GetName(), day(plan.GetFrom()), wording.Count(len(plan.GetSites()), "site"), wording.Count(len(plan.GetJobs()), "job"), plan.GetTitle())
			}
			return answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		return p.Err()
	})
}

// day shows a date, and a dash where there is none.
func day(d *date.Date) string {
	on, err := rulewire.DecodeDate(d)
	if err != nil {
		return "-"
	}
	return on.String()
}

func planText(p *page.Page, plan *campaignv1.Plan, units measure.System) *page.Page {
	p.Line("%s from %s: %s, %s of work, %s that do not fit", plan.GetName(), day(plan.GetFrom()), wording.Count(len(plan.GetJobs()), "job"), wording.Count(worked(plan), "day"), wording.Count(len(plan.GetMisfits()), "thing"))
	if len(plan.GetJobs()) > 0 {
		p.Line("")
		p.Line("JOBS, IN THEIR ORDER")
	}
	for _, j := range plan.GetJobs() {
		jobText(p, j, units)
	}
	conditionsText(p, plan)
	daysText(p, plan)
	documentsText(p, plan)
	misfitsText(p, plan)
	if len(plan.GetPurchases()) > 0 {
		p.Line("")
		p.Line("TO BUY")
	}
	for _, b := range plan.GetPurchases() {
		p.Text("- ", b.GetItem()+": "+report.Purchase(b, units))
	}
	if len(plan.GetRemarks()) > 0 {
		p.Line("")
	}
	for _, remark := range plan.GetRemarks() {
		p.Text("- ", remark)
	}
	p.Line("")
	p.Text("", "The label and the law stand above a plan. Check each day before work begins: rootward day.")
	return p
}

func worked(plan *campaignv1.Plan) int {
	days := map[string]bool{}
	for _, s := range plan.GetShifts() {
		if !s.GetSpare() {
			days[day(s.GetDate())] = true
		}
	}
	return len(days)
}

func jobText(p *page.Page, j *campaignv1.Job, units measure.System) {
	with := "nothing is applied"
	if j.GetChoice().GetFormulationId() != "" {
		with = fmt.Sprintf("%s, %s of mix with %s of product, %.3g g ae", j.GetChoice().GetFormulation(), units.Volume(j.GetMixL()*1000), units.Volume(j.GetProductMl()), j.GetAeG())
	}
	method := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(j.GetChoice().GetMethod().String(), "METHOD_"), "_", " "))
	until := "with no last day"
	if j.GetTreatUntil() != nil {
		until = "to " + day(j.GetTreatUntil())
	}
	p.Line("%s  %s %s  %s  %s, %s, %.1f person-hours", j.GetJobId(), day(j.GetTreatFrom()), until, method, wording.Count(len(j.GetRows()), "row"), wording.Count(j.GetStems(), "stem"), j.GetHours())
	p.Text("    ", with)
	p.Text("    ", "Turn: "+j.GetOrder())
}

// conditionsText says each condition once, with the jobs that it is for.
func conditionsText(p *page.Page, plan *campaignv1.Plan) {
	var order []string
	jobs := map[string][]string{}
	for _, j := range plan.GetJobs() {
		for _, c := range j.GetConditions() {
			if jobs[c] == nil {
				order = append(order, c)
			}
			jobs[c] = append(jobs[c], j.GetJobId())
		}
	}
	if len(order) > 0 {
		p.Line("")
		p.Line("CONDITIONS")
	}
	for _, c := range order {
		p.Text("- ", c+": "+strings.Join(jobs[c], ", "))
	}
}

func daysText(p *page.Page, plan *campaignv1.Plan) {
	if len(plan.GetShifts()) > 0 {
		p.Line("")
		p.Line("DAYS")
	}
	for _, s := range plan.GetShifts() {
		what := fmt.Sprintf("%s, %.1f person-hours", wording.Count(s.GetStems(), "stem"), s.GetHours())
		if s.GetSpare() {
			what = "kept free for rain"
		}
		p.Line("%s  %-12s %-20s %s", day(s.GetDate()), s.GetCrewId(), s.GetJobId(), what)
	}
}

func documentsText(p *page.Page, plan *campaignv1.Plan) {
	if len(plan.GetNotices())+len(plan.GetWantedPermits()) > 0 {
		p.Line("")
		p.Line("BEFORE THE WORK")
	}
	for _, n := range plan.GetNotices() {
		when := "by " + day(n.GetSendUntil())
		if n.GetSendFrom() != nil {
			when = day(n.GetSendFrom()) + " to " + day(n.GetSendUntil())
		}
		p.Text("- ", strings.TrimSuffix(fmt.Sprintf("%s: tell %s, for %s on %s; %s [%s]", when, n.GetTo(), n.GetJobId(), day(n.GetWorkDate()), n.GetRemark(), n.GetSource()), "; "))
	}
	for _, d := range plan.GetWantedPermits() {
		p.Text("- ", fmt.Sprintf("by %s: have %s from %s, for %s [%s]", day(d.GetNeededBy()), d.GetPermit(), d.GetFrom(), d.GetJobId(), d.GetSource()))
	}
}

func misfitsText(p *page.Page, plan *campaignv1.Plan) {
	if len(plan.GetMisfits()) > 0 {
		p.Line("")
		p.Line("DOES NOT FIT")
	}
	for _, m := range plan.GetMisfits() {
		what := m.GetJobId()
		if what == "" {
			what = m.GetSite() + " " + strings.Join(m.GetStemIds(), ", ")
		}
		p.Text("- ", fmt.Sprintf("%s, %s, %.1f person-hours: %s", what, wording.Count(m.GetStems(), "stem"), m.GetHours(), m.GetWhy()))
		switch {
		case m.GetChange() == "":
			p.Text("    ", "No change was found that makes it fit.")
		case m.Cost != nil:
			p.Text("    ", fmt.Sprintf("Fits if: %s, for %.2f more.", m.GetChange(), m.GetCost()))
		default:
			p.Text("    ", "Fits if: "+m.GetChange()+".")
		}
	}
}
