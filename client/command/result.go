package command

import (
	"errors"
	"fmt"

	"example.org/rootward/client"
	"example.org/rootward/client/fieldsheet"
	"example.org/rootward/client/report"
)

// results is everything that one prescription is written to.
type results struct {
	columns                                                        []report.Column // of the tables
	csvFile, explanationsFile, parquetFile, geojsonFile, sheetFile *output         // nil: not wanted

	pass *passResults
}

// table is a file with every row.
type table interface {
	client.Sink
	Close() error
}

// passResults is what one pass over the inventory fills.
type passResults struct {
	tally  report.Tally
	csv    *report.CSV
	tables []table // the others
	sheet  *fieldsheet.Sheet
}

func createResults(f *resultFiles, input string) (*results, error) {
	if f.OutExplanations != "" && f.OutCsv == "" {
		return nil, misuse{errors.New("--out-explanations takes out of the rows of --out-csv what they share; name that file too")}
	}
	r := &results{columns: report.Columns()}
	if len(f.Columns) > 0 {
		if err := f.choose(r); err != nil {
			return nil, misuse{err}
		}
	}
	seen := map[string]bool{}
	for _, one := range []struct {
		path string
		file **output
	}{
		{f.OutCsv, &r.csvFile}, {f.OutExplanations, &r.explanationsFile}, {f.OutParquet, &r.parquetFile},
		{f.OutGeojson, &r.geojsonFile}, {f.Sheet, &r.sheetFile},
	} {
		if one.path == "" {
			continue
		}
		var err error
		if seen[one.path] {
			err = misuse{fmt.Errorf("%s is named for two results; name a file for each", one.path)}
		} else {
			*one.file, err = createOutput(one.path, input)
		}
		if err != nil {
			r.drop()
			return nil, err
		}
		seen[one.path] = true
	}
	return r, nil
}

// choose takes the columns that are wanted.
func (f *resultFiles) choose(r *results) (err error) {
	switch {
	case f.OutExplanations != "":
		return errors.New("--columns chooses from the whole table, and --out-explanations takes out of it what rows share; leave one of them out")
	case f.OutCsv == "" && f.OutParquet == "" && f.OutGeojson == "":
		return errors.New("--columns chooses what is written to --out-csv, --out-parquet and --out-geojson; name one of these files")
	}
	if r.columns, err = report.Chosen(f.Columns); err != nil {
		return fmt.Errorf("--columns: %w", err)
	}
	return nil
}

func (r *results) files() []*output {
	var list []*output
	for _, o := range []*output{r.csvFile, r.explanationsFile, r.parquetFile, r.geojsonFile, r.sheetFile} {
		if o != nil {
			list = append(list, o)
		}
	}
	return list
}

// begin empties everything for a pass.
func (r *results) begin() (client.Sink, error) {
	r.pass = &passResults{}
	for _, o := range r.files() {
		if err := o.restart(); err != nil {
			return nil, err
		}
	}
	var err error
	switch {
	case r.explanationsFile != nil:
		r.pass.csv, err = report.NewCompactCSV(r.csvFile, r.explanationsFile)
	case r.csvFile != nil:
		r.pass.csv, err = report.NewCSV(r.csvFile, r.columns)
	}
	if err != nil {
		return nil, err
	}
	if r.parquetFile != nil {
		r.pass.tables = append(r.pass.tables, report.NewParquet(r.parquetFile, r.columns))
	}
	if r.geojsonFile != nil {
		r.pass.tables = append(r.pass.tables, report.NewGeoJSON(r.geojsonFile, r.columns))
	}
	if r.sheetFile != nil {
		r.pass.sheet = &fieldsheet.Sheet{}
	}
	return r.pass, nil
}

// Row hands a row to everything that is wanted.
func (p *passResults) Row(row *client.Row) error {
	err := p.tally.Row(row)
	if p.csv != nil {
		err = errors.Join(err, p.csv.Row(row))
	}
	return errors.Join(err, p.whole(row))
}

// Rows hands many rows to everything that is wanted.
func (p *passResults) Rows(a *client.Answered) error {
	err := p.tally.Rows(a)
	if p.csv != nil {
		err = errors.Join(err, p.csv.Rows(a))
	}
	if len(p.tables) == 0 && p.sheet == nil {
		return err
	}
	for i := range a.Len() {
		if wrong := p.whole(a.Row(i)); wrong != nil {
			return errors.Join(err, wrong) // the next row would only say the same
		}
	}
	return err
}

// whole hands a row to what wants the whole of it.
func (p *passResults) whole(row *client.Row) error {
	var err error
	for _, t := range p.tables {
		err = errors.Join(err, t.Row(row))
	}
	if p.sheet != nil {
		err = errors.Join(err, p.sheet.Row(row))
	}
	return err
}

// complete ends the files and then gives all of them their names.
func (r *results) complete(h *fieldsheet.Heading) error {
	if r.pass.csv != nil {
		if err := r.pass.csv.Flush(); err != nil {
			return err
		}
	}
	for _, t := range r.pass.tables {
		if err := t.Close(); err != nil {
			return err
		}
	}
	if r.pass.sheet != nil {
		if err := r.pass.sheet.Write(r.sheetFile, h); err != nil {
			return err
		}
	}
	for _, o := range r.files() {
		if err := o.finish(); err != nil {
			return err
		}
	}
	for _, o := range r.files() {
		if err := o.publish(); err != nil {
			return err
		}
	}
	return nil
}

func (r *results) drop() {
	for _, o := range r.files() {
		o.drop()
	}
}
