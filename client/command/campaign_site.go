package command

import (
	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
)

// siteCommands holds the commands below sites.
type siteCommands struct {
	Add    addSite    `cmd:"" help:"Open a site."`
	Change changeSite `cmd:"" help:"Change fields of a site: what was kept before stays readable as an earlier version."`
	Show   showSite   `cmd:"" help:"Show a site in full."`
	List   listSites  `cmd:"" help:"List the sites."`
}

type addSite struct {
	ID string `arg:"" help:"Last part of its name: \"north-bank\" makes sites/north-bank."`
	described
	written
}

// Run opens a site.
func (a *addSite) Run(r *run) error {
	site := &campaignv1.Site{}
	if _, err := a.read(site); err != nil {
		return misuse{err}
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.CreateSite(r.ctx, &campaignv1.CreateSiteRequest{SiteId: a.ID, Site: site, RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return siteLine(page.On(r.stdout), answer.GetSite()).Err()
	})
}

type changeSite struct {
	Name string `arg:"" help:"Name of the site: sites/ID."`
	described
	written
}

// Run changes the fields that the file states.
func (a *changeSite) Run(r *run) error {
	site := &campaignv1.Site{}
	fields, err := a.read(site)
	if err != nil {
		return misuse{err}
	}
	site.Name = a.Name
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.UpdateSite(r.ctx, &campaignv1.UpdateSiteRequest{Site: site, UpdateMask: mask(fields), RequestId: a.id(r)})
		if err != nil {
			return err
		}
		return siteLine(page.On(r.stdout), answer.GetSite()).Err()
	})
}

type showSite struct {
	Name    string `arg:"" help:"Name of the site: sites/ID."`
	Version int64  `placeholder:"N" help:"An earlier version; default the last."`
}

// Run shows a site.
func (a *showSite) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.GetSite(r.ctx, &campaignv1.GetSiteRequest{Name: a.Name, Version: a.Version})
		if err != nil {
			return err
		}
		return whole(r, answer.GetSite())
	})
}

type listSites struct{}

// Run lists sites.
func (*listSites) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		p := page.On(r.stdout)
		err := everyPage(func(token string) (string, error) {
			answer, err := c.Campaign.ListSites(r.ctx, &campaignv1.ListSitesRequest{PageToken: token})
			for _, s := range answer.GetSites() {
				siteLine(p, s)
			}
			return answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		return p.Err()
	})
}

func siteLine(p *page.Page, s *campaignv1.Site) *page.Page {
	p.Line("%s  version %d  %s  %s", s.GetName(), s.GetVersion(), s.GetPlace(), s.GetTitle())
	return p
}
