package command

import (
	"errors"
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/civil"

	"example.org/rootward/client"
	"example.org/rootward/client/comparison"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// compareRules is the command rules compare.
type compareRules struct {
	Old        string     `arg:"" help:"Old table: the start of its digest, ID@VERSION, active:ID, or none; see rules releases."`
	New        string     `arg:"" help:"New table, named likewise."`
	Inventory  string     `placeholder:"FILE" help:"Show what would become of this inventory as well."`
	Date       civil.Date `placeholder:"YYYY-MM-DD" help:"Day of treatment, for the inventory. Nothing is taken from the clock."`
	Site       string     `placeholder:"ID" help:"Only the rows of this site (locationID)."`
	AppliedAeG []string   `sep:"none" placeholder:"SITE:ACTIVE=GRAMS" help:"Grams of acid equivalent that were applied on a site earlier in the calendar year."`
	Granted    []string   `sep:"none" placeholder:"SITE=SET/RULE" help:"Reduction of a buffer that was granted for a site and is on record, by rule set and rule."`
	Examples   int        `default:"3" help:"How many rows are shown of each kind of change."`
	settings
}

// asked gives the inventory and what is asked for it.
func (q *compareRules) asked() asking {
	return asking{File: q.Inventory, Date: q.Date, Site: q.Site, AppliedAeG: q.AppliedAeG, Granted: q.Granted, settings: q.settings}
}

// Run compares two tables.
func (q *compareRules) Run(r *run) error {
	var options client.Options
	if q.Inventory != "" {
		asked := q.asked()
		var err error
		if options, err = asked.options(); err != nil {
			return err
		}
		if err := asked.readable(); err != nil {
			return err
		}
	}
	return r.with(func(c *client.Client) error {
		pair, err := q.pair(r, c)
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		if err := pair.rows(r, c, p); err != nil {
			return err
		}
		if q.Inventory != "" {
			if err := pair.answers(r, c, p, q, options); err != nil {
				return err
			}
		}
		pair.next(r, p)
		return p.Err()
	})
}

// tablePair is two tables to be compared; old is nil where there is none.
type tablePair struct {
	old, new *commonv1.RuleSetRef
	tables   *tables
}

func (q *compareRules) pair(r *run, c *client.Client) (*tablePair, error) {
	t, err := tablesOf(r, c)
	if err != nil {
		return nil, err
	}
	p := &tablePair{tables: t}
	if p.old, err = t.find(q.Old); err != nil {
		return nil, err
	}
	if p.new, err = t.find(q.New); err != nil {
		return nil, err
	}
	if p.new == nil {
		return nil, misuse{errors.New("the new table is none; name one. To take a rule set out of force, rules retire asks for no comparison")}
	}
	if active := t.activeOf(p.new.GetRuleSetId()); p.old == nil && active != nil {
		return nil, fmt.Errorf("rule set %s is active as %s; compare with active:%s", p.new.GetRuleSetId(), wording.RuleSet(active), p.new.GetRuleSetId())
	}
	return p, nil
}

// rows writes what differs between the tables.
func (t *tablePair) rows(r *run, c *client.Client, p *page.Page) error {
	answer, err := c.RuleSets.CompareRuleSets(r.ctx, &rulesetv1.CompareRuleSetsRequest{OldDigest: t.old.GetDigest(), NewDigest: t.new.GetDigest()})
	if err != nil {
		return err
	}
	p.Text("old  ", orNone(t.old))
	p.Text("new  ", orNone(t.new))
	p.Heading("Whose law, where and when")
	for _, clause := range answer.GetManifestChanges() {
		p.Text("  - ", clause)
	}
	switch {
	case t.old == nil:
		p.Line("  all of it is new")
	case len(answer.GetManifestChanges()) == 0:
		p.Line("  nothing differs")
	}
	writeRowChanges(p, answer.GetRowChanges())
	if len(answer.GetNamesNotInCatalogue()) > 0 {
		p.Heading("Names that this server's catalogue does not hold")
	}
	for _, f := range answer.GetNamesNotInCatalogue() {
		p.Text("  ! ", f.GetWhere()+": "+f.GetProblem())
	}
	return nil
}

func orNone(ref *commonv1.RuleSetRef) string {
	if ref == nil {
		return "no table"
	}
	return wording.RuleSet(ref)
}

// writeRowChanges writes those that may lift first, as they come. Rows that only hold
// from another day are many in a new edition, and named in one paragraph.
func writeRowChanges(p *page.Page, changes []*rulesetv1.RowChange) {
	var dated []string
	lifting, others := 0, 0
	for _, c := range changes {
		switch {
		case c.GetMayLift() && lifting == 0:
			p.Heading("Rules that may no longer forbid what they did")
			lifting++
		case !c.GetMayLift() && datedAlone(c):
			dated = append(dated, c.GetRuleId())
			continue
		case !c.GetMayLift() && others == 0:
			p.Heading("Rules that only ask for more, or say it in other words")
			others++
		}
		writeRowChange(p, c)
	}
	if len(dated) > 0 {
		p.Heading("Rules that are law from another day, and the same beside")
		p.Text("  ", strings.Join(dated, ", "))
	}
	if len(changes) == 0 {
		p.Heading("Rules")
		p.Line("  no rule differs")
	}
}

func datedAlone(c *rulesetv1.RowChange) bool {
	return len(c.GetParts()) == 1 && c.GetParts()[0] == "validity"
}

func writeRowChange(p *page.Page, c *rulesetv1.RowChange) {
	switch c.GetKind() {
	case rulesetv1.RowChangeKind_ROW_CHANGE_KIND_REMOVED:
		p.Text("  - ", c.GetRuleId()+": gone")
		p.Text("      was  ", c.GetOldText())
	case rulesetv1.RowChangeKind_ROW_CHANGE_KIND_ADDED:
		p.Text("  - ", c.GetRuleId()+": new")
		p.Text("      is   ", c.GetNewText())
	default:
		p.Text("  - ", c.GetRuleId()+": other "+strings.Join(c.GetParts(), ", "))
		p.Text("      was  ", c.GetOldText())
		p.Text("      is   ", c.GetNewText())
	}
}

// answers prescribes the inventory under both laws and writes what differs.
func (t *tablePair) answers(r *run, c *client.Client, p *page.Page, q *compareRules, o client.Options) error {
	answers := &comparison.Answers{MaxExamples: q.Examples}
	file := q.Inventory
	progress := r.newProgress()
	defer progress.end()
	o.Progress, o.Total = progress.tell, progress.expect
	if t.old != nil {
		o.Trial = []string{t.old.GetDigest()}
	}
	before, err := c.Prescribe(r.ctx, file, o, answers.BeginOld)
	if err != nil {
		return err
	}
	o.Trial = []string{t.new.GetDigest()}
	after, err := c.Prescribe(r.ctx, file, o, answers.BeginNew)
	if err != nil {
		return err
	}
	if err := t.sameOthers(before.Summary.GetRuleSets(), after.Summary.GetRuleSets()); err != nil {
		return err
	}
	cells, err := answers.Cells()
	if err != nil {
		return err
	}
	writeMatrix(p, file, o.Date, cells)
	return nil
}

// sameOthers sees that no other rule set was changed between the two prescriptions.
func (t *tablePair) sameOthers(before, after []*commonv1.RuleSetRef) error {
	others := func(list []*commonv1.RuleSetRef) *rulesetv1.ExplainResponse {
		r := &rulesetv1.ExplainResponse{}
		for _, ref := range list {
			if ref.GetRuleSetId() != t.new.GetRuleSetId() && ref.GetRuleSetId() != t.old.GetRuleSetId() {
				r.RuleSets = append(r.RuleSets, ref)
			}
		}
		return r
	}
	if !proto.Equal(others(before), others(after)) {
		return errors.New("another rule set was changed while the inventory was compared; compare again")
	}
	return nil
}

// outcomeOrder is that of the matrix.
var outcomeOrder = []treatmentv1.Outcome{
	treatmentv1.Outcome_OUTCOME_PRESCRIBED, treatmentv1.Outcome_OUTCOME_DEFERRED,
	treatmentv1.Outcome_OUTCOME_UNDETERMINED, treatmentv1.Outcome_OUTCOME_REJECTED,
}

func writeMatrix(p *page.Page, file string, day civil.Date, cells []comparison.Cell) {
	p.Heading("What becomes of the rows of an inventory")
	p.Text("  ", fmt.Sprintf("%s, treated on %s", file, day))
	count := map[[2]treatmentv1.Outcome]int64{}
	for _, c := range cells {
		count[[2]treatmentv1.Outcome{c.Old, c.New}] = c.Rows
	}
	line := "  old, down; new, across"
	for _, o := range outcomeOrder {
		line += fmt.Sprintf("%13s", wording.Outcome(o))
	}
	p.Line("%s%10s", line, "all")
	columns := make([]int64, len(outcomeOrder)+1)
	for _, old := range outcomeOrder {
		numbers := make([]int64, len(columns))
		for i, new := range outcomeOrder {
			numbers[i] = count[[2]treatmentv1.Outcome{old, new}]
			numbers[len(outcomeOrder)] += numbers[i]
		}
		for i, n := range numbers {
			columns[i] += n
		}
		matrixLine(p, wording.Outcome(old), numbers)
	}
	matrixLine(p, "all", columns)
	for i := range cells {
		writeCell(p, &cells[i])
	}
}

func matrixLine(p *page.Page, name string, numbers []int64) {
	line := fmt.Sprintf("  %-22s", name)
	for _, n := range numbers[:len(numbers)-1] {
		line += fmt.Sprintf("%13d", n)
	}
	p.Line("%s%10d", line, numbers[len(numbers)-1])
}

// writeCell writes a cell with its examples. Rows for which nothing differs at all
// need none.
func writeCell(p *page.Page, c *comparison.Cell) {
	if c.Otherwise == 0 {
		return
	}
	old, new := wording.Outcome(c.Old), wording.Outcome(c.New)
	switch {
	case c.Lifted():
		p.Heading(fmt.Sprintf("Lifted: %s before, %s now: %s", old, new, wording.Count(c.Rows, "row")))
	case c.Old == c.New:
		p.Heading(fmt.Sprintf("%s as before, but otherwise: %d of %s", old, c.Otherwise, wording.Count(c.Rows, "row")))
	default:
		p.Heading(fmt.Sprintf("%s before, %s now: %s", old, new, wording.Count(c.Rows, "row")))
	}
	for _, e := range c.Examples {
		p.Text("  - ", fmt.Sprintf("row %d, %s", e.Row, e.ID))
		p.Text("      was  ", e.Old)
		p.Text("      is   ", e.New)
	}
	if more := c.Otherwise - int64(len(c.Examples)); more > 0 {
		p.Text("  ", fmt.Sprintf("and %d more; --examples %d shows all", more, c.Otherwise))
	}
}

// next says how the new table is activated.
func (t *tablePair) next(r *run, p *page.Page) {
	p.Heading("To activate the new table")
	if r.connection.Server == "" {
		p.Text("  ", "A private server compared them, which forgets it now. Compare them at the server that is to activate the table, with --server.")
		return
	}
	with := none
	if t.old != nil {
		with = t.old.GetDigest()
	}
	active := t.tables.activeOf(t.new.GetRuleSetId())
	switch {
	case active.GetDigest() == t.new.GetDigest():
		p.Line("  It is active.")
	case active.GetDigest() != t.old.GetDigest():
		now := none
		if active != nil {
			now = "active:" + t.new.GetRuleSetId()
		}
		p.Text("  ", fmt.Sprintf("Compare it first with what is active now, %s: name it as %s.", orNone(active), now))
	default:
		p.Line("  rootward rules activate %s \\", t.new.GetDigest())
		p.Line("    --compared-with %s \\", with)
		p.Line("    --decided-by WHO --server %s", r.connection.Server)
	}
}
