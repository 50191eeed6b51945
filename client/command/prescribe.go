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
	"example.org/rootward/client/wording"
)

// prescribe is the command of that name.
type prescribe struct {
	asking
	resultFiles
	Units measure.System `default:"us" placeholder:"us|metric" help:"Units of the summary and the sheet: us or metric. Loads and mixes are shown in both."`
}

// asking is what decides the answers for an inventory.
type asking struct {
	File       string     `arg:"" help:"Inventory: .csv, .parquet, .geojson or .json; see docs/inventory-format.md."`
	Date       civil.Date `required:"" placeholder:"YYYY-MM-DD" help:"Day of treatment at the place. Nothing is taken from the clock."`
	Site       string     `placeholder:"ID" help:"Only the rows of this site (locationID)."`
	AppliedAeG []string   `sep:"none" placeholder:"SITE:ACTIVE=GRAMS" help:"Grams of acid equivalent that were applied on a site earlier in the calendar year. What is not stated counts as none."`
	Granted    []string   `sep:"none" placeholder:"SITE=SET/RULE" help:"Reduction of a buffer that was granted for a site and is on record, by rule set and rule."`
	settings
}

// resultFiles are the files to be written.
type resultFiles struct {
	Columns         []string `placeholder:"NAME,..." help:"Write only these columns into the CSV, Parquet and GeoJSON files, in the order of docs/result-format.md; outcome has to be one of them. Default: all."`
	OutCsv          string   `placeholder:"FILE" help:"Write every row as CSV; see docs/result-format.md."`
	OutExplanations string   `placeholder:"FILE" help:"Write what rows of the CSV share into a table of its own, once, and only its number into the rows: for large inventories."`
	OutParquet      string   `placeholder:"FILE" help:"Write every row as Parquet."`
	OutGeojson      string   `placeholder:"FILE" help:"Write every row as GeoJSON."`
	Sheet           string   `placeholder:"FILE.html" help:"Write a field sheet to print, of at most 5,000 rows."`
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
	reductions, err := granted(a.Granted)
	if err != nil {
		return client.Options{}, misuse{err}
	}
	return client.Options{Date: a.Date, Settings: a.settings.proto(), Site: a.Site, Applied: amounts, Granted: reductions}, nil
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
	progress := r.newProgress()
	options.Progress, options.Total = progress.tell, progress.expect
	result, err := c.Prescribe(r.ctx, p.File, options, results.begin)
	progress.end()
	if err != nil {
		return err
	}
	return p.publish(r, c, results, &fieldsheet.Heading{Inventory: p.File, Date: options.Date, Settings: options.Settings, Units: p.Units, Result: result})
}

// publish writes what holds for all rows, gives the files their names, and shows the
// summary.
func (f *resultFiles) publish(r *run, c *client.Client, results *results, heading *fieldsheet.Heading) (err error) {
	if heading.Effects, err = c.Effects(r.ctx, heading.Result.Summary.GetRuleSets()); err != nil {
		return err
	}
	if err := results.complete(heading); err != nil {
		return err
	}
	overview := report.Overview(*heading)
	if err := results.pass.tally.Summary(r.stdout, &overview); err != nil {
		return err
	}
	return f.closing(r, heading.Result)
}

// closing says where the results are, and that rejected rows are not among what
// can be treated.
func (f *resultFiles) closing(r *run, result *client.Result) error {
	before := "\n"
	for _, written := range []struct{ what, path string }{
		{"rows as CSV:      ", f.OutCsv}, {"explanations:     ", f.OutExplanations}, {"rows as Parquet:  ", f.OutParquet},
		{"rows as GeoJSON:  ", f.OutGeojson}, {"field sheet:      ", f.Sheet},
	} {
		if written.path != "" {
			fmt.Fprintf(r.stdout, "%s%s%s\n", before, written.what, written.path)
			before = ""
		}
	}
	if result.Totals.GetRows() == 0 {
		_, err := fmt.Fprintln(r.stdout, "\nThe inventory has no rows: nothing is prescribed.")
		return err
	}
	if n := result.Totals.GetRejected(); n > 0 {
		_, err := fmt.Fprintf(r.stdout, "\nRejected, so nothing is prescribed: %d of %s.\n", n, wording.Count(result.Totals.GetRows(), "row"))
		return err
	}
	return nil
}
