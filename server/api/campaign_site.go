package api

import (
	"context"
	"math"
	"time"
	_ "time/tzdata" // the zones of sites are known wherever the server runs

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

var sites = kind[*campaignv1.Site]{
	word: siteKind, plural: "sites", blank: func() *campaignv1.Site { return &campaignv1.Site{} },
	output: names("create_time"), check: checkSite, fill: fillSite,
}

// CreateSite opens a site.
func (s *Campaign) CreateSite(ctx context.Context, q *campaignv1.CreateSiteRequest) (*campaignv1.CreateSiteResponse, error) {
	t, err := create(ctx, s, &sites, creation[*campaignv1.Site]{call: q, id: q.GetSiteId(), request: q.GetRequestId(), thing: q.GetSite()})
	return &campaignv1.CreateSiteResponse{Site: t}, err
}

// GetSite gives a site.
func (s *Campaign) GetSite(ctx context.Context, q *campaignv1.GetSiteRequest) (*campaignv1.GetSiteResponse, error) {
	t, err := get(ctx, s, &sites, q.GetName(), q.GetVersion())
	return &campaignv1.GetSiteResponse{Site: t}, err
}

// UpdateSite changes fields of a site.
func (s *Campaign) UpdateSite(ctx context.Context, q *campaignv1.UpdateSiteRequest) (*campaignv1.UpdateSiteResponse, error) {
	t, err := update(ctx, s, &sites, change[*campaignv1.Site]{call: q, mask: q.GetUpdateMask(), request: q.GetRequestId(), thing: q.GetSite()})
	return &campaignv1.UpdateSiteResponse{Site: t}, err
}

// ListSites lists sites.
func (s *Campaign) ListSites(ctx context.Context, q *campaignv1.ListSitesRequest) (*campaignv1.ListSitesResponse, error) {
	list, next, err := list(ctx, s, &sites, listing{size: q.GetPageSize(), token: q.GetPageToken()})
	return &campaignv1.ListSitesResponse{Sites: list, NextPageToken: next}, err
}

// Defaults of a site; common practice, no source.
const (
	defaultCleanSeasons = 3
	defaultSearch       = 60 // minutes per hectare
)

// Limits of a site, beyond which a number is a slip of the pen.
const (
	maxCleanSeasons = 20
	maxSearch       = 10_000.0  // minutes per hectare
	maxShore        = 1_000_000 // metres
)

var parcelArea = squareMetres("parcel_area_m2").upTo(int64(100_000 * quantity.Hectare))

func checkSite(f *faults, p *campaignv1.Site) {
	f.text("title", p.GetTitle(), maxTitle)
	f.required("place", p.GetPlace(), "state the place whose law governs, as \"us/velmora\"")
	f.zone("time_zone", p.GetTimeZone())
	area, hasArea := f.real("", siteArea, p.AreaM2)
	parcel, hasParcel := f.real("", parcelArea, p.ParcelAreaM2)
	f.unless(!hasArea || !hasParcel || parcel >= area, "parcel_area_m2", "%g is less than area_m2, %g: the treated ground lies within the parcel", p.GetParcelAreaM2(), p.GetAreaM2())
	f.position("", p.LatitudeDeg, p.LongitudeDeg, p.ElevationM)
	f.between("shore_m", p.ShoreM, 0, maxShore, "metres")
	word[rules.YesNo](f, "both_banks", p.GetBothBanks())
	for field, s := range map[string]string{"customer_name": p.GetCustomerName(), "customer_address": p.GetCustomerAddress(), "location": p.GetLocation()} {
		f.text(field, s, maxNotes)
	}
	f.granted("", p.GetGrantedReductions())
	f.unless(p.GetCleanSeasonsWanted() >= 0 && p.GetCleanSeasonsWanted() <= maxCleanSeasons, "clean_seasons_wanted", "is %d: state 1 to %d, or 0, which is %d", p.GetCleanSeasonsWanted(), maxCleanSeasons, defaultCleanSeasons)
	f.between("search_min_per_ha", p.SearchMinPerHa, 1, maxSearch, "minutes per hectare")
	word[rules.YesNo](f, "to_be_felled", p.GetToBeFelled())
	f.fellingSeason(p)
}

func (f *faults) zone(field, name string) *time.Location {
	zone, err := time.LoadLocation(name)
	if name == "" || name == "Local" || err != nil {
		f.add(field, "%s is not a time zone: use a name of the IANA database, as \"America/New_York\"", quoted(name))
		return time.UTC
	}
	return zone
}

// fellingSeason reads the part of the year in which trees may be felled; all year is
// the window that is not valid.
func (f *faults) fellingSeason(p *campaignv1.Site) civil.Window {
	w := p.GetFellingSeason()
	if w == nil {
		return civil.Window{}
	}
	season := civil.Window{
		From: civil.DayOfYear{Month: time.Month(w.GetFrom().GetMonth()), Day: int(w.GetFrom().GetDay())},
		To:   civil.DayOfYear{Month: time.Month(w.GetTo().GetMonth()), Day: int(w.GetTo().GetDay())},
	}
	f.unless(season.Valid(), "felling_season", "%s is not a part of the year: state month and day of its first and its last day", season)
	return season
}

func fillSite(f *filling[*campaignv1.Site]) error {
	f.thing.CreateTime = f.thing.GetUpdateTime()
	if f.last != nil {
		f.thing.CreateTime = f.last.GetCreateTime()
	}
	return nil
}

// cleanSeasonsWanted is what a site states, or the default.
func cleanSeasonsWanted(p *campaignv1.Site) int {
	if p.GetCleanSeasonsWanted() == 0 {
		return defaultCleanSeasons
	}
	return int(p.GetCleanSeasonsWanted())
}

// searchPerHectare is what a site states, or the default, in minutes.
func searchPerHectare(p *campaignv1.Site) float64 {
	if p.SearchMinPerHa == nil {
		return defaultSearch
	}
	return math.Max(p.GetSearchMinPerHa(), 1)
}

// zoneOf is the zone of a site that was checked.
func zoneOf(p *campaignv1.Site) *time.Location {
	var f faults
	return f.zone("time_zone", p.GetTimeZone())
}
