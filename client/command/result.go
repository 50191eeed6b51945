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
	csvFile, geojsonFile, sheetFile *output // nil: not wanted

	pass *passResults
}

// passResults is what one pass over the inventory fills.
type passResults struct {
	tally   report.Tally
	csv     *report.CSV
	geojson *report.GeoJSON
	sheet   *fieldsheet.Sheet
}

func createResults(f *resultFiles, input string) (*results, error) {
	r := &results{}
	seen := map[string]bool{}
	for _, one := range []struct {
		path string
		file **output
	}{{f.OutCsv, &r.csvFile}, {f.OutGeojson, &r.geojsonFile}, {f.Sheet, &r.sheetFile}} {
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

func (r *results) files() []*output {
	var list []*output
	for _, o := range []*output{r.csvFile, r.geojsonFile, r.sheetFile} {
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
	if r.csvFile != nil {
		var err error
		if r.pass.csv, err = report.NewCSV(r.csvFile); err != nil {
			return nil, err
		}
	}
	if r.geojsonFile != nil {
		r.pass.geojson = report.NewGeoJSON(r.geojsonFile)
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
	if p.geojson != nil {
		err = errors.Join(err, p.geojson.Row(row))
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
	if r.pass.geojson != nil {
		if err := r.pass.geojson.Close(); err != nil {
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
