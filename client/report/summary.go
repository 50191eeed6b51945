package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"

	"example.org/rootward/client"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// Overview is what a summary says besides what the rows tell.
type Overview struct {
	Inventory string // the file
	Date      civil.Date
	Settings  *treatmentv1.Settings
	Units     measure.System
	Result    *client.Result
	Effects   client.Effects
}

// Summary writes what a crew lead needs to know of the inventory, at most ninety
// columns wide.
func (t *Tally) Summary(w io.Writer, o *Overview) error {
	t.settle()
	p := page.On(w)
	asked(p, o)
	outcomes(p, o.Result.Totals)
	t.byMethod(p, o.Units)
	t.whenToDo(p)
	mixes(p, o.Result.Summary.GetMixes())
	purchases(p, o)
	maxima(p, o)
	t.findOut(p)
	t.deferred(p)
	t.rejections(p, o.Result.Totals.GetRejected())
	t.law(p, o)
	t.careful(p, o)
	return p.Err()
}

func asked(p *page.Page, o *Overview) {
	p.Line("PRESCRIPTION FOR %s", o.Date)
	p.Text("  inventory   ", fmt.Sprintf("%s: %s, %s", o.Inventory, wording.Count(o.Result.Totals.GetRows(), "row"), wording.Count(len(o.Result.Sites), "site")))
	p.Text("  applicator  ", standing(o.Settings, "standing not stated (--standing)"))
	for i, ref := range o.Result.Summary.GetRuleSets() {
		label := "  rule sets   "
		if i > 0 {
			label = "              "
		}
		p.Text(label, fmt.Sprintf("%s (%s)", wording.RuleSet(ref), wording.Word(rules.Layer(ref.GetLayer()))))
	}
	if len(o.Result.Summary.GetRuleSets()) == 0 {
		p.Text("  rule sets   ", "none governs any of these sites")
	}
	for i, ref := range o.Result.Summary.GetWaterLayers() {
		label := "  water       "
		if i > 0 {
			label = "              "
		}
		p.Text(label, wording.WaterLayer(ref))
	}
	p.Text("  applied     ", applied(o.Result.Sites))
}

// standing gives that of the applicator, or other words where none was stated.
func standing(s *treatmentv1.Settings, none string) string {
	if word := wording.Word(rules.Standing(s.GetStanding())); word != "" {
		return word
	}
	return none
}

// applied says what the annual maxima were told of earlier treatments: an amount
// that nobody stated counts as none.
func applied(sites []*treatmentv1.Site) string {
	stated := 0
	for _, s := range sites {
		stated += len(s.GetAppliedThisYear())
	}
	if stated == 0 {
		return "nothing stated as applied earlier in the year (--applied-ae-g)"
	}
	return fmt.Sprintf("%s of earlier treatments in the year are counted", wording.Count(stated, "amount"))
}

func outcomes(p *page.Page, t *treatmentv1.Totals) {
	p.Heading("What became of the rows")
	for _, o := range []struct {
		rows          int64
		word, meaning string
	}{
		{t.GetPrescribed(), "prescribed", "may be treated on the day asked, under the conditions below"},
		{t.GetDeferred(), "deferred", "do NOT treat on that day"},
		{t.GetUndetermined(), "undetermined", "do NOT treat until what is missing has been found out"},
		{t.GetRejected(), "rejected", "could not be read as a stem; correct the inventory"},
	} {
		p.Line("  %7d  %-13s %s", o.rows, o.word, o.meaning)
	}
	p.Line("  %7d  rows in, each answered once", t.GetRows())
}

func (t *Tally) byMethod(p *page.Page, units measure.System) {
	if len(t.methods) == 0 {
		return
	}
	p.Heading("By method")
	p.Line("  %8s %9s %9s %12s %12s", "rows", "stems", "cuts", "mix", "product")
	slices.SortFunc(t.methods, func(a, b *methodSum) int { return cmp.Compare(a.name, b.name) })
	for _, m := range t.methods {
		p.Text("  ", m.name)
		p.Line("  %8d %9d %9s %12s %12s", m.rows, m.stems, countOrDash(m.cuts), volumeOrDash(units, m.mixML), volumeOrDash(units, m.productML))
		if m.secondRows > 0 {
			p.Text("           ", fmt.Sprintf("with a second pass on larger stems: %s", wording.Count(m.secondRows, "row")))
		}
	}
}

func countOrDash(n int64) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}

func volumeOrDash(units measure.System, ml float64) string {
	if ml == 0 {
		return "-"
	}
	return units.Volume(ml)
}

func (t *Tally) whenToDo(p *page.Page) {
	if len(t.dates.list) == 0 {
		return
	}
	p.Heading("Dates")
	last := ""
	for _, g := range sorted(t.dates.list, func(a, b *group) int {
		return cmp.Or(cmp.Compare(a.text, b.text), cmp.Compare(a.detail, b.detail))
	}) {
		if g.text != last {
			p.Text("  ", g.text)
		}
		last = g.text
		p.Text(fmt.Sprintf("  %13s  ", wording.Count(g.rows, "row")), g.detail)
	}
}

func (t *Tally) findOut(p *page.Page) {
	if len(t.unknown.list) == 0 {
		return
	}
	p.Heading("To find out before these can be decided (a row can need several)")
	listed(p, t.unknown.largest(), func(g *group) string { return wording.Title(g.text) })
}

// maxListed is how many reasons a section names.
const maxListed = 15

func listed(p *page.Page, list []*group, text func(*group) string) {
	for _, g := range list[:min(len(list), maxListed)] {
		p.Text("  - ", text(g))
		p.Text("      ", g.rowsAndIDs())
	}
	if more := len(list) - maxListed; more > 0 {
		p.Line("  and %s more, which the tables name", wording.Count(more, "reason"))
	}
}

func (t *Tally) deferred(p *page.Page) {
	if len(t.later.list) == 0 {
		return
	}
	p.Heading("Deferred")
	listed(p, t.later.soonest(), func(g *group) string {
		if g.detail == "" {
			return "No date: " + g.text
		}
		return "Not before " + g.detail + ": " + g.text
	})
}

func (t *Tally) rejections(p *page.Page, all int64) {
	if all == 0 {
		return
	}
	p.Heading("Rejected")
	for _, r := range t.rejected {
		for _, f := range r.Faults {
			p.Text("  - ", f.String())
		}
	}
	if more := all - int64(len(t.rejected)); more > 0 {
		p.Line("  and %s more, which the tables name", wording.Count(more, "row"))
	}
}

func (t *Tally) law(p *page.Page, o *Overview) {
	groups := t.conditions.Groups(o.Effects)
	if len(groups) == 0 {
		return
	}
	p.Heading("Conditions by law on what is prescribed")
	for _, g := range groups {
		p.Line("  %s", g.Title())
		for _, c := range g.Conditions {
			p.Text("  - ", wording.Title(c.Text()))
			p.Text("      ", fmt.Sprintf("%s for %s (%s); %s", c.RuleID(), c.MethodNames(), wording.Count(c.Rows, "row"), c.Finding.GetCitation()))
		}
	}
}

// Always are the cautions that stand under every plan, whatever else is in it.
var Always = []string{
	"The label is the law and stands above this plan.",
	"Local codes and the judgement of a licensed practitioner stand above this plan.",
}

func (t *Tally) careful(p *page.Page, o *Overview) {
	p.Heading("Cautions")
	for _, caution := range Always {
		p.Text("  ! ", caution)
	}
	for _, g := range t.cautions.largest() {
		if slices.Contains(Always, g.text) {
			continue
		}
		who := ""
		if g.rows < o.Result.Totals.GetPrescribed() {
			who = fmt.Sprintf(" (%s)", g.rowsAndIDs())
		}
		p.Text("  - ", g.text+who)
	}
}
