package command

import (
	"fmt"
	"strings"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
)

// visitCommands holds the commands below visits.
type visitCommands struct {
	Add     addVisit     `cmd:"" help:"Keep a day on a site on which nothing was applied: an inspection, or a felling."`
	Correct correctVisit `cmd:"" help:"Correct a visit: what was kept before stays readable as an earlier version."`
	Show    showVisit    `cmd:"" help:"Show a visit in full."`
	List    listVisits   `cmd:"" help:"List the visits of a site."`
}

type addVisit struct {
	Site string `arg:"" help:"Name of the site: sites/ID."`
	ID   string `arg:"" help:"Last part of its name: \"june-2027\" makes sites/ID/visits/june-2027."`
	found
	described
	written
}

// found is what was found, as inventories.
type found struct {
	Found []string `sep:"none" placeholder:"KIND=FILE" help:"Inventory of what was found of one kind, added to what the file states: stump_sprout, root_sucker, survivor, missed_stem, seedling, doubtful or dead. May be given several times."`
}

// add adds the rows of the inventories to a visit.
func (a *found) add(visit *campaignv1.Visit) error {
	for _, one := range a.Found {
		word, path, _ := strings.Cut(one, "=")
		kind, known := campaignv1.FindKind_value["FIND_KIND_"+strings.ToUpper(word)]
		if !known || kind == 0 || path == "" {
			return misuse{fmt.Errorf("--found %s is not KIND=FILE with a kind of stump_sprout, root_sucker, survivor, missed_stem, seedling, doubtful or dead", one)}
		}
		stems, err := stemsIn(path)
		if err != nil {
			return err
		}
		for _, s := range stems {
			visit.Found = append(visit.Found, &campaignv1.Find{Kind: campaignv1.FindKind(kind), Stem: s})
		}
	}
	return nil
}

// Run keeps a visit.
func (a *addVisit) Run(r *run) error {
	visit := &campaignv1.Visit{}
	if _, err := a.read(visit); err != nil {
		return misuse{err}
	}
	if err := a.add(visit); err != nil {
		return err
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.CreateVisit(r.ctx, &campaignv1.CreateVisitRequest{Parent: a.Site, VisitId: a.ID, Visit: visit, RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return visitText(page.On(r.stdout), answer.GetVisit()).Err()
	})
}

type correctVisit struct {
	Name string `arg:"" help:"Name of the visit: sites/ID/visits/ID."`
	found
	described
	written
}

// Run keeps the next version of a visit.
func (a *correctVisit) Run(r *run) error {
	visit := &campaignv1.Visit{}
	fields, err := a.read(visit)
	if err != nil {
		return misuse{err}
	}
	visit.Name = a.Name
	if len(a.Found) > 0 {
		fields = append(fields, "found")
	}
	if err := a.add(visit); err != nil {
		return err
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.UpdateVisit(r.ctx, &campaignv1.UpdateVisitRequest{Visit: visit, UpdateMask: mask(fields), RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return visitText(page.On(r.stdout), answer.GetVisit()).Err()
	})
}

type showVisit struct {
	Name    string `arg:"" help:"Name of the visit: sites/ID/visits/ID."`
	Version int64  `placeholder:"N" help:"An earlier version; default the last."`
}

// Run shows a visit.
func (a *showVisit) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.GetVisit(r.ctx, &campaignv1.GetVisitRequest{Name: a.Name, Version: a.Version})
		if err != nil {
			return err
		}
		return whole(r, answer.GetVisit())
	})
}

type listVisits struct {
	Site string `arg:"" help:"Name of the site: sites/ID."`
}

// Run lists visits.
func (a *listVisits) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		p := page.On(r.stdout)
		err := everyPage(func(token string) (string, error) {
			answer, err := c.Campaign.ListVisits(r.ctx, &campaignv1.ListVisitsRequest{Parent: a.Site, PageToken: token})
			for _, v := range answer.GetVisits() {
				visitLine(p, v)
			}
			return answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		return p.Err()
	})
}

func visitLine(p *page.Page, v *campaignv1.Visit) {
	day, _ := rulewire.DecodeDate(v.GetDate())
	did := fmt.Sprintf("%d found", len(v.GetFound()))
	if n := len(v.GetFelledStemIds()); n > 0 {
		did += fmt.Sprintf(", %d felled", n)
	}
	p.Line("%s  version %d  %s  %s", v.GetName(), v.GetVersion(), day, did)
}

// visitText says what became of a visit: whether it counts, and what it broke.
func visitText(p *page.Page, v *campaignv1.Visit) *page.Page {
	visitLine(p, v)
	p.Text("  ", v.GetLooked())
	for _, b := range v.GetBreaches() {
		p.Text("! ", b)
	}
	return p
}
