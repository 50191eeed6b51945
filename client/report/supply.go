package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"

	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

func mixes(p *page.Page, list []*treatmentv1.Mix) {
	if len(list) == 0 {
		return
	}
	p.Heading("Mixes")
	for _, m := range list {
		p.Text("  ", wording.Choice(m.GetMethod(), m.GetFormulation()))
		p.Text("    ", fmt.Sprintf("%s of mix for %s in %s, in %s", measure.Both(m.GetMixL()*1000), wording.Count(m.GetStems(), "stem"), wording.Count(m.GetRows(), "row"), wording.Count(m.GetLoads(), "load")))
		if m.GetFullLoad() != nil {
			p.Text(fmt.Sprintf("    %d full ", m.GetLoads()-1), Load(m.GetFullLoad(), m.GetCarrier()))
			p.Text("    last    ", Load(m.GetLastLoad(), m.GetCarrier()))
		} else {
			p.Text("    load    ", Load(m.GetLastLoad(), m.GetCarrier()))
		}
	}
}

// Load says what is measured into one filling, in both systems. The product's
// two figures are measures of their own, each rounded down by the server.
func Load(l *treatmentv1.Load, carrier string) string {
	parts := []string{strings.Join(Product(l), " or ") + " product"}
	if l.GetCarrierGal() > 0 {
		parts = append(parts, filling(l.GetCarrierGal(), l.GetCarrierL())+" "+carrier)
	}
	if l.GetAdjuvantMl() > 0 {
		parts = append(parts, measure.Both(l.GetAdjuvantMl())+" adjuvant")
	}
	if l.GetDyeMl() > 0 {
		parts = append(parts, measure.Both(l.GetDyeMl())+" dye")
	}
	text := filling(l.GetMixGal(), quantity.Gallons(l.GetMixGal()).Litres()) + " mix = " + strings.Join(parts, " + ")
	if remark := TooLittle(l); remark != "" {
		text += "; " + remark
	}
	return text
}

// filling writes what a tank takes, in both systems.
func filling(gal, l float64) string {
	if l < 1 {
		return measure.Both(l * 1000)
	}
	return fmt.Sprintf("%s gal (%s L)", measure.Down(gal), measure.Down(l))
}

// Product gives the product of a load in fluid ounces, where they can be measured, and in
// millilitres.
func Product(l *treatmentv1.Load) []string {
	ml := fmt.Sprintf("%g mL", l.GetProductMl())
	switch {
	case tooLittleProduct(l):
		return []string{"under 0.5 mL"}
	case l.GetProductFlOz() < measure.LeastFluidOunces:
		return []string{ml}
	}
	return []string{fmt.Sprintf("%g fl oz", l.GetProductFlOz()), ml}
}

// tooLittleProduct also holds of what the server has rounded down to nothing.
func tooLittleProduct(l *treatmentv1.Load) bool {
	return l.GetMixGal() > 0 && (l.GetProductMl() == 0 || measure.TooLittle(l.GetProductMl()))
}

// TooLittle says what to do about a load of which something cannot be measured; nothing of
// another.
func TooLittle(l *treatmentv1.Load) string {
	if tooLittleProduct(l) || measure.TooLittle(l.GetAdjuvantMl()) || measure.TooLittle(l.GetDyeMl()) {
		return "too little to measure: mix a larger load, of the same shares"
	}
	return ""
}

func purchases(p *page.Page, o *Overview) {
	list := o.Result.Summary.GetPurchases()
	if len(list) == 0 {
		return
	}
	p.Heading("To buy (needed and spare rounded up, whole containers)")
	for _, b := range list {
		p.Text("  - ", b.GetItem())
		p.Text("      ", Purchase(b, o.Units))
	}
}

// Purchase says how much of one item is needed and bought.
func Purchase(b *treatmentv1.Purchase, units measure.System) string {
	line := fmt.Sprintf("needed %s, spare %s", units.Need(b.GetNeededL()), units.Need(b.GetSpareL()))
	if b.GetContainers() == 0 {
		return line + "; size of a container not known"
	}
	return fmt.Sprintf("%s: %s of %s, surplus %s", line,
		wording.Count(b.GetContainers(), "container"), containerSize(b.GetContainerGal()), units.Volume(b.GetSurplusL()*1000))
}

// containerSize is nominal, so it is not rounded down.
func containerSize(gal float64) string { return fmt.Sprintf("%.3g gal", gal) }

// maxUses bounds the sites that are shown one by one; a site that is split is
// always shown.
const maxUses = 20

func maxima(p *page.Page, o *Overview) {
	uses := slices.Clone(o.Result.Summary.GetSiteUses())
	if len(uses) == 0 {
		return
	}
	p.Heading("Annual maxima of acid equivalent, by site")
	p.Text("  ", "A site's area is the ground that is treated on it, not the parcel.")
	slices.SortStableFunc(uses, func(a, b *treatmentv1.SiteUse) int {
		return cmp.Or(cmp.Compare(b.GetSeasons(), a.GetSeasons()), cmp.Compare(fullness(b), fullness(a)))
	})
	for i, u := range uses {
		if i >= maxUses && u.GetSeasons() <= 1 {
			p.Line("  and %d more, all within their maximum", len(uses)-i)
			break
		}
		p.Text("  - ", Use(u, o.Units))
		p.Text("      ", u.GetSource())
	}
}

func fullness(u *treatmentv1.SiteUse) float64 {
	return u.GetUsedLbAePerAc() / max(u.GetLimitLbAePerAc(), 1e-9)
}

// Use says how much of an active's annual maximum a site takes, and whether it is
// split over seasons.
func Use(u *treatmentv1.SiteUse, units measure.System) string {
	line := fmt.Sprintf("%s, %s: %s of %s", u.GetSiteId(), u.GetActive(), units.Rate(u.GetUsedLbAePerAc()), units.Rate(u.GetLimitLbAePerAc()))
	if u.GetSeasons() > 1 {
		line += fmt.Sprintf("; all stems would take %s, so the site is SPLIT over %d seasons", units.Rate(u.GetWantedLbAePerAc()), u.GetSeasons())
	}
	return line
}
