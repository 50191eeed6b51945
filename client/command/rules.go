package command

import (
	"fmt"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// lawbook holds the commands below rules.
type lawbook struct {
	List    listRules    `cmd:"" help:"List the rule sets that are active, and those that could not be loaded."`
	Show    showRules    `cmd:"" help:"Show one rule set with all its rows."`
	Explain explainRules `cmd:"" help:"Show what every row that applies says of one treatment of one stem, at a place on a day."`

	Releases releases     `cmd:"" help:"List the releases in the server's folder: active, eligible, or refused and why."`
	Compare  compareRules `cmd:"" help:"Show what differs between two tables, and in the answers for an inventory."`
	Activate activate     `cmd:"" help:"Put a compared table in force at a running server."`
	Rollback rollback     `cmd:"" help:"Bring back the table that was active before, at a running server."`
	Retire   retire       `cmd:"" help:"Take a rule set out of force at a running server."`
	Status   hostStatus   `cmd:"" help:"Show how rule plugins are confined and how they fare."`

	Keygen keygen      `cmd:"" help:"Make a key to sign releases with."`
	Sign   signRelease `cmd:"" help:"Sign a build of a rule set, or add a signature to its release."`
	Verify verify      `cmd:"" help:"See whether a build's release is one that a trust file covers."`
	Pin    pin         `cmd:"" help:"Make the releases of a folder active, before its first server starts."`
}

type listRules struct {
	Place string     `placeholder:"PLACE" help:"Only sets that govern this place, as us/velmora."`
	Date  civil.Date `placeholder:"YYYY-MM-DD" help:"Only sets in force on this day. Default: all."`
}

// Run lists the rule sets.
func (l *listRules) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.RuleSets.ListRuleSets(r.ctx, &rulesetv1.ListRuleSetsRequest{Place: l.Place, On: rulewire.EncodeDate(l.Date)})
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		for _, s := range answer.GetRuleSets() {
			manifest(p, s.GetRef(), s.GetManifest(), int(s.GetRowCount()))
		}
		if len(answer.GetRuleSets()) == 0 {
			p.Text("", "No rule set is active for that: everything there is undetermined, and nothing may be treated.")
		}
		if len(answer.GetNotLoaded()) > 0 {
			p.Heading("Not loaded")
			for _, f := range answer.GetNotLoaded() {
				p.Text("  - ", f.GetWhere()+": "+f.GetProblem())
			}
		}
		return p.Err()
	})
}

func manifest(p *page.Page, ref *commonv1.RuleSetRef, m *ruletablev1.Manifest, rows int) {
	p.Text("", fmt.Sprintf("%s %s: %s", ref.GetRuleSetId(), ref.GetVersion(), m.GetTitle()))
	p.Text("    ", fmt.Sprintf("%s, by %s; governs %s with all below it; %s; %s",
		wording.Word(rules.Layer(ref.GetLayer())), m.GetPublisher(), m.GetScope(), validity(wording.Date(m.GetValidFrom()), wording.Date(m.GetValidTo())), wording.Count(rows, "row")))
	if m.GetReviewBy() != nil {
		p.Text("    ", "to be reviewed by "+wording.Date(m.GetReviewBy()))
	}
	p.Text("    ", "sha256 "+ref.GetDigest())
}

func validity(from, to string) string {
	if to == "" {
		return "law from " + from
	}
	return "law from " + from + " to " + to
}

type showRules struct {
	ID string `arg:"" name:"id" help:"Id of the rule set; see rules list."`
}

// Run shows one rule set.
func (s *showRules) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.RuleSets.GetRuleSet(r.ctx, &rulesetv1.GetRuleSetRequest{RuleSetId: s.ID})
		if err != nil {
			return err
		}
		table, err := rulewire.DecodeTable(answer.GetTable())
		if err != nil {
			return fmt.Errorf("rule set %s holds what this client cannot read; use a client of the server's version: %w", s.ID, err)
		}
		p := page.On(r.stdout)
		manifest(p, answer.GetRef(), answer.GetTable().GetManifest(), len(table.Rows))
		for i := range table.Rows {
			tableRow(p, &table.Rows[i])
		}
		return p.Err()
	})
}

func tableRow(p *page.Page, row *rules.Row) {
	p.Line("")
	p.Text("", row.ID+": "+row.Purpose)
	p.Text("    ", row.Text())
	if to := row.When.Text(); to != "" {
		p.Text("    ", "for "+to)
	}
	to := ""
	if row.ValidTo.Known() {
		to = row.ValidTo.String()
	}
	p.Text("    ", row.Citation+"; "+validity(row.ValidFrom.String(), to))
}
