package command

import (
	"errors"
	"fmt"

	"example.org/rootward/rules/civil"

	"example.org/rootward/client"
	"example.org/rootward/client/fieldsheet"
	"example.org/rootward/client/inventory"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/report"
)

// prescribe is the command of that name.
type prescribe struct {
	asking
	resultFiles
	Units measure.System `default:"us" placeholder:"us|metric" help:"Units of the summary and the sheet: us or metric. Loads and mixes are shown in both."`
}

// asking is what decides the answers for an inventory.
type asking struct {
	File       string     `arg:"" help:"Inventory: .csv, .geojson or .json; see docs/inventory-format.md."`
	Date       civil.Date `required:"" placeholder:"YYYY-MM-DD" help:"Day of treatment at the place. Nothing is taken from the clock."`
	Site       string     `placeholder:"ID" help:"Only the rows of this site (locationID)."`
	AppliedAeG []string   `sep:"none" placeholder:"SITE:ACTIVE=GRAMS" help:"Grams of acid equivalent that were applied on a site earlier in the calendar year. What is not stated counts as none."`
	settings
}

// resultFiles are the files to be written.
type resultFiles struct {
	OutCsv     string `placeholder:"FILE" help:"Write every row as CSV; see docs/result-format.md."`
	OutGeojson string `placeholder:"FILE" help:"Write every row as GeoJSON."`
	Sheet      string `placeholder:"FILE.html" help:"Write a field sheet to print, of at most 5,000 rows."`
}

var errNoDate = errors.New("--date is empty; state the day of treatment as YYYY-MM-DD")

func (a *asking) options() (client.Options, error) {
	if !a.Date.Known() {
		return client.Options{}, misuse{errNoDate}
	}
	amounts, err := applied(a.AppliedAeG)
	if err != nil {
		return client.Options{}, misuse{err}
	}
	return client.Options{Date: a.Date, Settings: a.settings.proto(), Site: a.Site, Applied: amounts}, nil
}

// readable opens the file once before a server is started for it: a wrong name or
// header is told at once.
func (a *asking) readable() error {
	reader, err := inventory.Open(a.File)
	if err != nil {
		return err
	}
	return reader.Close()
}

// Run prescribes the inventory.
func (p *prescribe) Run(r *run) error {
	options, err := p.options()
	if err != nil {
		return err
	}
	if err := p.readable(); err != nil {
		return err
	}
	results, err := createResults(&p.resultFiles, p.File)
	if err != nil {
		return err
	}
	defer results.drop()
	return r.with(func(c *client.Client) error { return p.write(r, c, options, results) })
}

func (p *prescribe) write(r *run, c *client.Client, options client.Options, results *results) error {
	progress := newProgress(r.stderr)
	options.Progress = progress.tell
	result, err := c.Prescribe(r.ctx, p.File, options, results.begin)
	progress.end()
	if err != nil {
		return err
	}
	effects, err := c.Effects(r.ctx, result.Summary.GetRuleSets())
	if err != nil {
		return err
	}
	heading := &fieldsheet.Heading{Inventory: p.File, Date: options.Date, Settings: options.Settings, Units: p.Units, Result: result, Effects: effects}
	if err := results.complete(heading); err != nil {
		return err
	}
	overview := report.Overview(*heading)
	if err := results.pass.tally.Summary(r.stdout, &overview); err != nil {
		return err
	}
	return p.closing(r, result)
}

// closing says where the results are, and that rejected rows are not among what
// can be treated.
func (p *prescribe) closing(r *run, result *client.Result) error {
	for i, path := range []string{p.OutCsv, p.OutGeojson, p.Sheet} {
		if path != "" {
			fmt.Fprintf(r.stdout, "%s%s\n", []string{"\nrows as CSV:      ", "rows as GeoJSON:  ", "field sheet:      "}[i], path)
		}
	}
	if n := result.Totals.GetRejected(); n > 0 {
		_, err := fmt.Fprintf(r.stdout, "\n%d of %d rows were rejected: nothing is prescribed for them.\n", n, result.Totals.GetRows())
		return err
	}
	return nil
}
