package command

import (
	"fmt"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client/decline"
	"example.org/rootward/client/page"
)

// print shows how a site stands, what is due first.
func (a *siteProgress) print(r *run, p *campaignv1.Progress, chart *decline.Chart) error {
	out := page.On(r.stdout)
	state := strings.ReplaceAll(strings.TrimPrefix(p.GetState().String(), "SITE_STATE_"), "_", " ")
	out.Line("%s on %s: %s", a.Site, a.Date, state)
	out.Line("%d of %d clean growing seasons in a row", p.GetCleanSeasons(), p.GetCleanSeasonsWanted())
	printDue(out, p)
	if len(p.GetSeasons()) > 0 {
		out.Heading("growing seasons")
		for _, s := range p.GetSeasons() {
			out.Text(fmt.Sprintf("%d  %-18s ", s.GetYear(), s.GetState()), s.GetWhy())
		}
	}
	out.Heading("decline")
	if err := out.Err(); err != nil {
		return err
	}
	if err := chart.WriteText(r.stdout); err != nil {
		return err
	}
	printQuestions(out, p)
	printFelling(out, p)
	a.printArea(out, p)
	a.printUse(out, p)
	printAll(out, "to mend", p.GetToMend())
	return out.Err()
}

func printAll(out *page.Page, title string, list []string) {
	if len(list) == 0 {
		return
	}
	out.Heading(title)
	for _, s := range list {
		out.Text("- ", s)
	}
}

func printDue(out *page.Page, p *campaignv1.Progress) {
	if len(p.GetSteps()) > 0 {
		out.Heading("due")
	}
	for _, s := range p.GetSteps() {
		out.Text("- ", fmt.Sprintf("%s, %s: %s", s.GetWhat(), period(s.GetFrom(), s.GetUntil()), s.GetWhy()))
	}
	printAll(out, "why it is not finished", p.GetNotFinished())
	if len(p.GetDue()) == 0 {
		return
	}
	out.Heading("alive and not treated")
	const shown = 20
	for _, d := range p.GetDue()[:min(shown, len(p.GetDue()))] {
		day, _ := rulewire.DecodeDate(d.GetDate())
		text := fmt.Sprintf("%s, seen on %s: %s", d.GetStemId(), day, d.GetWhy())
		if d.GetTreatment() != "" {
			text += ". " + d.GetTreatment()
		}
		if d.GetTreatFrom() != nil {
			text += " Opening: " + period(d.GetTreatFrom(), d.GetTreatUntil()) + "."
		}
		out.Text("- ", text)
	}
	if more := len(p.GetDue()) - shown; more > 0 {
		out.Line("- and %d more: --json lists all", more)
	}
}

func period(from, until *date.Date) string {
	first, _ := rulewire.DecodeDate(from)
	last, _ := rulewire.DecodeDate(until)
	switch {
	case !first.Known():
		return "on a day that is not known"
	case !last.Known():
		return fmt.Sprintf("from %s on", first)
	}
	return fmt.Sprintf("%s to %s", first, last)
}

// printQuestions asks about the last count that was worse than expected.
func printQuestions(out *page.Page, p *campaignv1.Progress) {
	for i := len(p.GetDecline()) - 1; i >= 0; i-- {
		d := p.GetDecline()[i]
		if d.GetGap() != "" || d.GetVerdict() == "not known" {
			continue
		}
		if d.GetVerdict() == "worse than expected" {
			day, _ := rulewire.DecodeDate(d.GetDate())
			out.Line("More was left on %s than published efficacy leads to expect. Ask:", day)
			for _, q := range d.GetRemarks() {
				out.Text("- ", q)
			}
		}
		return
	}
}

// printFelling tells rows with the same answer at once.
func printFelling(out *page.Page, p *campaignv1.Progress) {
	if len(p.GetFelling()) == 0 {
		return
	}
	out.Heading("felling")
	var order []string
	rows := map[string][]string{}
	for _, f := range p.GetFelling() {
		answer := "not to be felled: " + f.GetWhy()
		if f.GetFrom() != nil {
			answer = period(f.GetFrom(), f.GetUntil()) + ": " + f.GetWhy()
		}
		if rows[answer] == nil {
			order = append(order, answer)
		}
		rows[answer] = append(rows[answer], f.GetStemId())
	}
	for _, answer := range order {
		out.Text("- ", fmt.Sprintf("%s (%s)", answer, firstFew(rows[answer])))
	}
}

// firstFew lists ids, the first few of many.
func firstFew(ids []string) string {
	const shown = 8
	if len(ids) <= shown {
		return strings.Join(ids, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(ids[:shown], ", "), len(ids)-shown)
}

func (a *siteProgress) printArea(out *page.Page, p *campaignv1.Progress) {
	area := p.GetInspectionArea()
	if area == nil || len(p.GetTreated()) == 0 {
		return
	}
	out.Heading("where to look")
	if area.AreaM2 == nil {
		out.Text("! ", area.GetUnknown())
		return
	}
	out.Text("", fmt.Sprintf("%s within %s of what was treated; %d minutes of search, summed over the persons, make a visit count.",
		a.Units.Area(area.GetAreaM2()), a.Units.Length(area.GetRadiusM()), area.GetSearchMin()))
	if area.UncertaintyM != nil {
		out.Text("", fmt.Sprintf("The ground is widened by how far off positions may be, up to %s round %s. Rounded coordinates count as well: state them with more decimals, or locate the stem better, and there is less to search.",
			a.Units.Length(area.GetUncertaintyM()), area.GetUncertainStemId()))
	}
}

func (a *siteProgress) printUse(out *page.Page, p *campaignv1.Progress) {
	if len(p.GetTotals())+len(p.GetThresholds()) == 0 {
		return
	}
	out.Heading("use in the calendar year")
	for _, t := range p.GetTotals() {
		text := fmt.Sprintf("%s in %d: %s of %s applied, %.4g g ae left, %s [%s]", t.GetActive(), t.GetYear(), grams(t.AppliedAeG), grams(t.LimitAeG), t.GetLeftAeG(), t.GetCounted(), t.GetSource())
		if t.GetUnknown() != "" {
			text += "; " + t.GetUnknown()
		}
		out.Text("- ", text)
	}
	for _, t := range p.GetThresholds() {
		used := "not known"
		if t.Used != nil {
			used = fmt.Sprintf("%.4g", t.GetUsed())
		}
		out.Text("- ", fmt.Sprintf("%s: %s of %.4g %s in %d; beyond it: %s [%s]", t.GetState(), used, t.GetLimit(), t.GetUnit(), t.GetYear(), t.GetThen(), t.GetSource()))
	}
}

func grams(v *float64) string {
	if v == nil {
		return "an amount that is not known"
	}
	return fmt.Sprintf("%.4g g ae", *v)
}
