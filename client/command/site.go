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
}

func (g *ground) proto() *treatmentv1.Site {
	return &treatmentv1.Site{SiteId: "site", Place: g.Place, AreaM2: either(g.SiteAreaM2, times(g.SiteAreaAc, m2PerAcre))}
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
