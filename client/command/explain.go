package command

import (
	"errors"
	"fmt"
	"io"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/inventory"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/report"
)

// explain is the command of that name.
type explain struct {
	asking
	Row   int64          `xor:"row" placeholder:"N" help:"Number of the row, from 1; the column row of the results."`
	ID    string         `name:"id" xor:"row" placeholder:"ID" help:"Id of the row (occurrenceID)."`
	Units measure.System `default:"us" placeholder:"us|metric" help:"Units: us or metric."`
}

// Run explains one row. Its whole site is asked for, since a site's annual maximum
// decides over its stems together.
func (e *explain) Run(r *run) error {
	if (e.Row == 0) == (e.ID == "") {
		return misuse{errors.New("name the row by --row or by --id")}
	}
	options, err := e.options()
	if err != nil {
		return err
	}
	record, err := e.find()
	if err != nil {
		return err
	}
	if record.Rejected() {
		return e.write(r, &client.Row{Record: record, Outcome: treatmentv1.Outcome_OUTCOME_REJECTED, Faults: record.Faults}, nil)
	}
	options.Site = record.SiteID
	return r.with(func(c *client.Client) error {
		want := &oneRow{number: record.Number}
		if _, err := c.Prescribe(r.ctx, e.File, options, func() (client.Sink, error) { return want, nil }); err != nil {
			return err
		}
		working, err := workingOf(r, c, want.row, options.Settings)
		if err != nil {
			return err
		}
		return e.write(r, want.row, working)
	})
}

func (e *explain) write(r *run, row *client.Row, working []string) error {
	reasoning := report.Reasoning{Row: row, Date: e.Date, Settings: e.settings.proto(), Units: e.Units, Working: working}
	return reasoning.Write(r.stdout)
}

// find reads the file up to the row.
func (e *explain) find() (*inventory.Record, error) {
	reader, err := inventory.Open(e.File)
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	for {
		record, err := reader.Next()
		if errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("%s has no row %s", e.File, e.wanted())
		}
		if err != nil {
			return nil, err
		}
		if record.Number == e.Row || e.ID != "" && record.Stem.GetStemId() == e.ID {
			return record, nil
		}
	}
}

func (e *explain) wanted() string {
	if e.ID != "" {
		return fmt.Sprintf("with id %q", e.ID)
	}
	return fmt.Sprint(e.Row)
}

// oneRow keeps the row of one number.
type oneRow struct {
	number int64
	row    *client.Row
}

// Row implements client.Sink.
func (o *oneRow) Row(r *client.Row) error {
	if r.Record.Number == o.number {
		o.row = r
	}
	return nil
}

// workingOf asks for the formulas behind a prescribed dose.
func workingOf(r *run, c *client.Client, row *client.Row, settings *treatmentv1.Settings) ([]string, error) {
	choice := row.Explanation.GetChoice()
	if row.Dose == nil || choice.GetFormulationId() == "" {
		return nil, nil
	}
	answer, err := c.Treatment.CalculateDose(r.ctx, &treatmentv1.CalculateDoseRequest{
		Stem: row.Record.Stem, Method: choice.GetMethod(), FormulationId: choice.GetFormulationId(), Settings: settings,
	})
	return answer.GetWorking(), err
}
