package command

import (
	"fmt"
	"strings"
	"time"
	_ "time/tzdata" // the zones of sites are known wherever the client runs

	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
)

// measured is how volumes are shown.
type measured struct {
	Units measure.System `default:"us" placeholder:"us|metric" help:"Units: us or metric. US units stand beside the millilitres that a record states."`
}

// product writes what was applied: as it was recorded, and by a US measure.
func (m *measured) product(ml float64) string {
	text := fmt.Sprintf("%.4g mL", ml)
	if in := m.Units.Volume(ml); m.Units == measure.US && !strings.HasSuffix(in, " mL") {
		text += " (" + in + ")"
	}
	return text
}

type addRecord struct {
	Site string `arg:"" help:"Name of the site: sites/ID."`
	ID   string `arg:"" help:"Last part of its name: \"august-10\" makes sites/ID/records/august-10."`
	measured
	described
	written
}

// Run keeps a use.
func (a *addRecord) Run(r *run) error {
	record := &campaignv1.Record{}
	if _, err := a.read(record); err != nil {
		return misuse{err}
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.CreateRecord(r.ctx, &campaignv1.CreateRecordRequest{Parent: a.Site, RecordId: a.ID, Record: record, RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return a.recordText(page.On(r.stdout), answer.GetRecord(), siteZone(r, c, answer.GetRecord().GetName())).Err()
	})
}

type correctRecord struct {
	Name string `arg:"" help:"Name of the record: sites/ID/records/ID."`
	measured
	described
	written
}

// Run keeps the next version of a record.
func (a *correctRecord) Run(r *run) error {
	record := &campaignv1.Record{}
	fields, err := a.read(record)
	if err != nil {
		return misuse{err}
	}
	record.Name = a.Name
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.UpdateRecord(r.ctx, &campaignv1.UpdateRecordRequest{Record: record, UpdateMask: mask(fields), RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return a.recordText(page.On(r.stdout), answer.GetRecord(), siteZone(r, c, answer.GetRecord().GetName())).Err()
	})
}

type showRecord struct {
	Name    string `arg:"" help:"Name of the record: sites/ID/records/ID."`
	Version int64  `placeholder:"N" help:"An earlier version; default the last."`
	measured
	JSON bool `name:"json" help:"Show everything as JSON instead."`
}

// Run shows a record.
func (a *showRecord) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.GetRecord(r.ctx, &campaignv1.GetRecordRequest{Name: a.Name, Version: a.Version})
		if err != nil {
			return err
		}
		if a.JSON {
			return whole(r, answer.GetRecord())
		}
		return a.recordText(page.On(r.stdout), answer.GetRecord(), siteZone(r, c, answer.GetRecord().GetName())).Err()
	})
}

type listRecords struct {
	Site string `arg:"" help:"Name of the site: sites/ID."`
	measured
}

// Run lists records.
func (a *listRecords) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		p, zone := page.On(r.stdout), siteZone(r, c, a.Site)
		err := everyPage(func(token string) (string, error) {
			answer, err := c.Campaign.ListRecords(r.ctx, &campaignv1.ListRecordsRequest{Parent: a.Site, PageToken: token})
			for _, one := range answer.GetRecords() {
				a.recordLine(p, one, zone)
			}
			return answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		return p.Err()
	})
}

// siteZone is the time of day on the site of a thing by its name; UTC where it is not known.
func siteZone(r *run, c *client.Client, name string) *time.Location {
	parts := strings.SplitN(name, "/", 3)
	answer, err := c.Campaign.GetSite(r.ctx, &campaignv1.GetSiteRequest{Name: strings.Join(parts[:min(len(parts), 2)], "/")})
	if err != nil {
		return time.UTC
	}
	zone, err := time.LoadLocation(answer.GetSite().GetTimeZone())
	if err != nil {
		return time.UTC
	}
	return zone
}

// minute writes a time of day on the site with its distance from UTC and its zone.
func minute(t *timestamppb.Timestamp, zone *time.Location) string {
	return t.AsTime().In(zone).Format("2006-01-02 15:04 -07:00") + " (" + zone.String() + ")"
}

func (m *measured) recordLine(p *page.Page, r *campaignv1.Record, zone *time.Location) {
	what := "nothing applied"
	if r.GetFormulationId() != "" {
		what = fmt.Sprintf("%s, %s of product, %.4g g ae of %s", r.GetFormulationId(), m.product(r.GetProductMl()), r.GetAeG(), r.GetActive())
	}
	p.Line("%s  version %d  %s  %s", r.GetName(), r.GetVersion(), minute(r.GetStartTime(), zone), what)
}

// recordText says what a record amounts to: when people may enter again, what is missing,
// and in what it departs from the prescription or the law.
func (m *measured) recordText(p *page.Page, r *campaignv1.Record, zone *time.Location) *page.Page {
	m.recordLine(p, r, zone)
	if r.GetEntryEndTime() != nil {
		p.Line("  nobody enters without protection before %s", minute(r.GetEntryEndTime(), zone))
	}
	for _, d := range r.GetDuties() {
		dutyText(p, d, zone)
	}
	for _, b := range r.GetBreaches() {
		p.Text("! ", b)
	}
	return p
}

func dutyText(p *page.Page, d *campaignv1.RecordDuty, zone *time.Location) {
	words := []string{d.GetRule() + ": complete"}
	if len(d.GetMissing()) > 0 {
		words[0] = d.GetRule() + ": MISSING " + strings.Join(d.GetMissing(), ", ")
	}
	if d.GetDueTime() != nil {
		due := "due " + minute(d.GetDueTime(), zone)
		if !d.GetOnTime() {
			due = "LATE, was " + due
		}
		words = append(words, due)
	}
	if d.GetKeepUntil() != nil {
		words = append(words, "keep until "+day(d.GetKeepUntil()))
	}
	p.Text("  ", strings.Join(words, "; ")+" ["+d.GetSource()+"]")
}
