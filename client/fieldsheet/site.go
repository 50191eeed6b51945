package fieldsheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"

	"example.org/rootward/client"
	"example.org/rootward/client/conditions"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/report"
	"example.org/rootward/client/wording"
)

// site is one site of the sheet.
type site struct {
	ID, Place, Area string
	Treated, Not    int
	Water           []entry  // how far to keep from it
	Uses            []string // of annual maxima
	Map             *plan    // nil without positions
	Methods         []*method
	Leave           []*leave // not to be treated
}

// method is the stems of a site that are treated alike, on the same dates.
type method struct {
	Title, Dates, Safety string
	Symbol               symbol
	Steps                []string
	Cuts                 bool // the method makes cuts
	CutML                string
	Liquid               bool // something is applied
	Stems                []stem
	rank                 int32
}

// leave is stems of a site that are left alone for the same reason.
type leave struct {
	Word, Until, Why string
	Remedies         []string
	Stems            []stem
}

// stem is one row.
type stem struct {
	Number            int64 // of the row in the inventory, as the map has it
	ID, Species, Form string
	Size              []string
	Remarks, Second   string
	Water             []string // that is known to be near
	Stems             int64
	Cuts              string
	Mix, Product      []string // mL; in US units fluid ounces, too, from one on
}

func newSite(h *Heading, rows []*client.Row) *site {
	first := rows[0].Record
	s := &site{ID: first.SiteID, Place: first.Place, Area: "area not stated", Water: water(h, rows), Map: newPlan(rows, h.Units)}
	for _, known := range h.Result.Sites {
		if known.GetSiteId() == s.ID && known.AreaM2 != nil {
			s.Area = h.Units.Area(known.GetAreaM2())
		}
	}
	for _, u := range h.Result.Summary.GetSiteUses() {
		if u.GetSiteId() == s.ID {
			s.Uses = append(s.Uses, use(u, h.Units))
		}
	}
	for _, r := range rows {
		if isPrescribed(r) {
			s.Treated++
			s.add(r, h.Units)
		} else {
			s.Not++
			s.leave(r, h.Units)
		}
	}
	slices.SortStableFunc(s.Methods, func(a, b *method) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.Title, b.Title), cmp.Compare(a.Dates, b.Dates))
	})
	return s
}

// use drops the site's name, which stands above it.
func use(u *treatmentv1.SiteUse, units measure.System) string {
	return strings.TrimPrefix(report.Use(u, units), u.GetSiteId()+", ")
}

func water(h *Heading, rows []*client.Row) []entry {
	var list []entry
	for _, g := range collect(rows).Groups(h.Effects) {
		if g.Kind != conditions.Water {
			continue
		}
		for _, c := range g.Conditions {
			list = append(list, newEntry(c))
		}
	}
	return list
}

func (s *site) add(r *client.Row, units measure.System) {
	c := r.Explanation.GetChoice()
	title, dates := wording.Choice(c.GetMethod(), c.GetFormulation()), capital(report.Dates(r.Explanation.GetDates()))
	i := slices.IndexFunc(s.Methods, func(m *method) bool { return m.Title == title && m.Dates == dates })
	if i < 0 {
		i = len(s.Methods)
		s.Methods = append(s.Methods, &method{
			Title: title, Dates: dates, Safety: safety(c), Symbol: symbolOf(r), Steps: r.Explanation.GetSteps(),
			Liquid: c.GetFormulationId() != "", rank: int32(c.GetMethod()),
		})
	}
	m := s.Methods[i]
	m.Stems = append(m.Stems, newStem(r, units))
	if r.Dose.GetCuts() > 0 {
		m.Cuts, m.CutML = true, measure.Down(r.Dose.GetCutMl())
	}
}

func (s *site) leave(r *client.Row, units measure.System) {
	e := r.Explanation
	l := &leave{Word: wording.Outcome(r.Outcome), Why: e.GetWhy(), Remedies: e.GetRemedies()}
	if r.Outcome == treatmentv1.Outcome_OUTCOME_DEFERRED {
		l.Until = wording.Date(e.GetDates().GetTreatFrom())
	}
	i := slices.IndexFunc(s.Leave, func(o *leave) bool {
		return o.Word == l.Word && o.Until == l.Until && o.Why == l.Why && slices.Equal(o.Remedies, l.Remedies)
	})
	if i < 0 {
		i = len(s.Leave)
		s.Leave = append(s.Leave, l)
	}
	s.Leave[i].Stems = append(s.Leave[i].Stems, newStem(r, units))
}

func safety(c *treatmentv1.Choice) string {
	if c.GetFormulationId() == "" {
		return ""
	}
	parts := []string{"signal word " + c.GetSignalWord(), fmt.Sprintf("nobody enters for %d hours", c.GetEntryIntervalH())}
	if c.GetExclusionZoneFt() > 0 {
		parts = append(parts, fmt.Sprintf("nobody within %g ft while it is applied", c.GetExclusionZoneFt()))
	}
	if c.GetCarrier() != "" && c.GetCarrier() != "none" {
		parts = append(parts, "in "+c.GetCarrier())
	}
	return capital(strings.Join(parts, "; "))
}

func newStem(r *client.Row, units measure.System) stem {
	record := r.Record
	s := stem{
		Number: record.Number, ID: record.Stem.GetStemId(), Species: record.Stem.GetScientificName(),
		Form: wording.Word(rules.GrowthForm(record.Stem.GetForm())), Size: size(record.Stem, units),
		Remarks: record.Remarks, Stems: r.Stems(), Water: report.NearWater(r, units),
		Mix: volume(r.Dose.GetMixMl(), units), Product: volume(r.Dose.GetProductMl(), units), Cuts: cuts(r.Dose),
	}
	if r.Second != nil {
		s.Second = fmt.Sprintf("Later pass, prescribed anew on its date: %s, %s", wording.Method(r.Explanation.GetSecondPass().GetMethod()), wording.Count(r.Second.GetStems(), "stem"))
	}
	return s
}

// cuts gives the cuts of each stem too, where there are several.
func cuts(d *treatmentv1.Dose) string {
	if d.GetStems() > 1 && d.GetCuts()%d.GetStems() == 0 && d.GetCuts() > 0 {
		return fmt.Sprintf("%d (%d each)", d.GetCuts(), d.GetCuts()/d.GetStems())
	}
	return fmt.Sprint(d.GetCuts())
}

// volume is in millilitres whatever the system, for a small dose is measured by syringe or
// cylinder; what fills a US measure is given by it, too.
func volume(ml float64, units measure.System) []string {
	list := []string{measure.Down(ml)}
	if units == measure.US && quantity.Millilitres(ml).FluidOunces() >= 1 {
		list = append(list, units.Volume(ml))
	}
	return list
}

func size(s *treatmentv1.Stem, units measure.System) []string {
	var parts []string
	if s.DiameterCm != nil {
		at := ""
		if s.GetRootCollar() {
			at = " collar"
		}
		parts = append(parts, units.Diameter(s.GetDiameterCm())+at)
	}
	if s.HeightM != nil {
		parts = append(parts, units.Length(s.GetHeightM())+" tall")
	}
	if s.AreaM2 != nil {
		parts = append(parts, units.Area(s.GetAreaM2()))
	}
	return parts
}
