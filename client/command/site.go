package command

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// ground is the site of one stem, by flags.
type ground struct {
	Place      string   `required:"" placeholder:"PLACE" help:"Place whose law governs, the widest first, as us/velmora."`
	SiteAreaAc *float64 `xor:"sitearea" placeholder:"N" help:"Ground that is treated on the site, in acres, not the parcel: a larger area would dilute the annual maximum. Without it no herbicide is prescribed: an annual maximum per acre cannot be held."`
	SiteAreaM2 *float64 `name:"site-area-m2" xor:"sitearea" placeholder:"N" help:"The same in square metres."`
	position
	Granted []string `placeholder:"SET/RULE" help:"Reduction of a buffer that was granted for the site and is on record, by rule set and rule."`
}

// position is where a site lies, for windows that a place computes for each site.
type position struct {
	LatitudeDeg  *float64 `placeholder:"N" help:"Latitude of the site in degrees, north above 0; write --latitude-deg=-41.2 for the south."`
	LongitudeDeg *float64 `placeholder:"N" help:"Longitude of the site in degrees, east above 0; write --longitude-deg=-79.5 for the west."`
	ElevationFt  *float64 `xor:"elevation" placeholder:"N" help:"Height of the site above sea level in feet."`
	ElevationM   *float64 `xor:"elevation" placeholder:"N" help:"The same in metres."`
}

func (p *position) elevation() *float64 { return either(p.ElevationM, times(p.ElevationFt, mPerFoot)) }

func (g *ground) proto() *treatmentv1.Site {
	return &treatmentv1.Site{
		SiteId: "site", Place: g.Place, AreaM2: either(g.SiteAreaM2, times(g.SiteAreaAc, m2PerAcre)),
		LatitudeDeg: g.LatitudeDeg, LongitudeDeg: g.LongitudeDeg, ElevationM: g.elevation(), GrantedReductions: g.Granted,
	}
}

// granted reads reductions stated as SITE=SET/RULE; a site's name may hold an equals
// sign, that of a rule may not.
func granted(flags []string) (map[string][]string, error) {
	bySite := map[string][]string{}
	var faults []error
	for _, flag := range flags {
		equals := strings.LastIndex(flag, "=")
		if equals <= 0 || !strings.Contains(flag[equals:], "/") {
			faults = append(faults, fmt.Errorf("--granted %q is not SITE=SET/RULE", flag))
			continue
		}
		bySite[flag[:equals]] = append(bySite[flag[:equals]], flag[equals+1:])
	}
	return bySite, errors.Join(faults...)
}

// applied reads amounts stated as SITE:ACTIVE=GRAMS; a site's name may hold a colon.
func applied(flags []string) (map[string][]*treatmentv1.AppliedAmount, error) {
	bySite := map[string][]*treatmentv1.AppliedAmount{}
	var faults []error
	for _, flag := range flags {
		name, number, found := strings.Cut(flag, "=")
		colon := strings.LastIndex(name, ":")
		if !found || colon <= 0 || colon == len(name)-1 {
			faults = append(faults, fmt.Errorf("--applied-ae-g %q is not SITE:ACTIVE=GRAMS", flag))
			continue
		}
		grams, err := positiveOrZero(number)
		if err != nil {
			faults = append(faults, fmt.Errorf("--applied-ae-g %q: %w", flag, err))
			continue
		}
		site := name[:colon]
		bySite[site] = append(bySite[site], &treatmentv1.AppliedAmount{Active: name[colon+1:], AeG: grams})
	}
	return bySite, errors.Join(faults...)
}

func positiveOrZero(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 0) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not a number of zero or more", text)
	}
	return v, nil
}
