package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// option is one way of treating a species on one land use: a method, with what
// is applied, and the rules that can bear on it. It serves many stems.
type option struct {
	method      method
	formulation *Formulation // nil when nothing is applied
	recipe      *Recipe      // nil when nothing is applied
	law         *rules.Narrowed
	evidence    []*Evidence
	cost        int64
	maximum     quantity.ArealRate // of the active in a year, by the catalogue
	source      string             // of the maximum
}

// newOptions lists the options for a species on a land use, in the order in
// which ties are kept: methods, then the catalogue.
func (p *Planner) newOptions(s *Species, use rules.LandUse) []option {
	var options []option
	for _, m := range methods {
		if m.id() == rules.HandPull {
			options = append(options, p.newOption(s, use, m, nil, nil))
			continue
		}
		for i := range p.catalogue.Recipes {
			r := &p.catalogue.Recipes[i]
			if r.Method != m.id() {
				continue
			}
			for _, f := range p.atHand(r) {
				options = append(options, p.newOption(s, use, m, r, f))
			}
		}
	}
	return options
}

// atHand lists the formulations at hand that a recipe can be made from.
func (p *Planner) atHand(r *Recipe) []*Formulation {
	var list []*Formulation
	for i := range p.catalogue.Formulations {
		f := &p.catalogue.Formulations[i]
		if f.serves(r) && p.settings.hasAtHand(f.ID) {
			list = append(list, f)
		}
	}
	return list
}

func (f *Formulation) serves(r *Recipe) bool {
	return f.Active == r.Active && f.Kind == r.Kind && f.Methods.Has(r.Method)
}

func (s *Settings) hasAtHand(id string) bool {
	for _, have := range s.Formulations {
		if have == id {
			return true
		}
	}
	return len(s.Formulations) == 0
}

func (p *Planner) newOption(s *Species, use rules.LandUse, m method, r *Recipe, f *Formulation) option {
	o := option{method: m, recipe: r, formulation: f}
	o.law = p.governing.Narrow(p.treatment(&o, s, use))
	if f != nil {
		o.maximum, o.source = p.catalogue.annualMax(f.Active)
	}
	for i := range p.catalogue.Evidence {
		if e := &p.catalogue.Evidence[i]; e.isAbout(s, &o) {
			o.evidence = append(o.evidence, e)
		}
	}
	for _, c := range p.catalogue.Costs {
		if c.Method == m.id() {
			o.cost = c.PerStem
		}
	}
	return o
}

// treatment is the option as the rules see it.
func (p *Planner) treatment(o *option, s *Species, use rules.LandUse) rules.Treatment {
	d := o.method.delivery()
	t := rules.Treatment{
		Species: s.Name, Suckering: s.Suckering, Method: o.method.id(), LandUse: use,
		Standing: p.settings.Standing, Categories: p.settings.Categories, DriftControl: p.settings.DriftControl,
		Equipment: d.equipment, Droplet: d.droplet, ReleaseHeight: d.release, NoHerbicide: o.formulation == nil,
		CarrierMlPerHa: p.settings.carrier(o.method.id()), Granted: p.site.Granted,
	}
	if f := o.formulation; f != nil {
		t.Active, t.Formulation, t.SoilActivity = f.Active, f.Kind, f.SoilActivity
		t.AquaticLabel, t.RestrictedUse, t.Toxicity = f.AquaticLabel, f.RestrictedUse, f.Toxicity
	}
	return t
}

// TreatmentOf is a way of treating a stem as the rules see it. Formulation is empty where
// nothing is applied. It reports false where there is no such method, species or
// formulation.
func TreatmentOf(c *Catalogue, settings *Settings, granted []string, stem *Stem, m rules.Method, formulation string) (rules.Treatment, bool) {
	p := &Planner{catalogue: c, settings: settings, site: &Site{Granted: granted}}
	o := option{formulation: c.Formulation(formulation)}
	for _, known := range methods {
		if known.id() == m {
			o.method = known
		}
	}
	species := c.species(stem.Species)
	if o.method == nil || species == nil || o.formulation == nil && formulation != "" {
		return rules.Treatment{}, false
	}
	return p.treatment(&o, species, stem.LandUse), true
}

// AnnualMax is the strictest annual maximum of an active ingredient among the formulations
// of the catalogue, with its source; false where none has it.
func (c *Catalogue) AnnualMax(active string) (rate quantity.ArealRate, source string, known bool) {
	rate, source = c.annualMax(active)
	return rate, source, source != ""
}

// isAbout is the part of the fit that does not depend on the stem.
func (e *Evidence) isAbout(s *Species, o *option) bool {
	if e.Species != "" && e.Species != s.Name || !e.Suckering.Empty() && !e.Suckering.Has(s.Suckering) {
		return false
	}
	if !e.Methods.Empty() && !e.Methods.Has(o.method.id()) {
		return false
	}
	if e.Active == "" && e.Kind == 0 {
		return true
	}
	f := o.formulation
	return f != nil && (e.Active == "" || e.Active == f.Active) && (e.Kind == 0 || e.Kind == f.Kind)
}

// covers is the part of the fit that the stem and the season decide.
func (e *Evidence) covers(t *traits) bool { return e.isOfSeason(t.season) && e.isOfStem(t) }

func (e *Evidence) isOfSeason(s rules.Season) bool {
	return e.Seasons.Empty() || s == 0 || e.Seasons.Has(s)
}

// isOfStem is what the stem decides in any season.
func (e *Evidence) isOfStem(t *traits) bool {
	if !e.Forms.Empty() && !e.Forms.Has(t.form) {
		return false
	}
	if e.Above == 0 && e.UpTo == 0 {
		return true
	}
	return t.diameter.exceeds(e.Above) && (e.UpTo == 0 || !t.diameter.exceeds(e.UpTo))
}

// annualMax is the strictest annual maximum of an active ingredient among its
// formulations, with its source: it counts over all of them.
func (c *Catalogue) annualMax(active string) (quantity.ArealRate, string) {
	var limit quantity.ArealRate
	var source string
	for i := range c.Formulations {
		f := &c.Formulations[i]
		if f.Active == active && (source == "" || f.AnnualMax < limit) {
			limit, source = f.AnnualMax, f.Sources["annual_max"]
		}
	}
	return limit, source
}

// limit is the annual maximum of the option's active ingredient per area, the
// stricter of the catalogue's and the rules', with its source. It is zero, and
// so nothing may be applied, where none is stated.
func (o *option) limit(site *rules.Surroundings) (quantity.ArealRate, string) {
	return o.stricter(o.law.Cap(site, o.formulation.Active, false))
}

// limitOfSite leaves out what holds on some land uses alone, of which a site may
// have several.
func (o *option) limitOfSite(site *rules.Surroundings) (quantity.ArealRate, string) {
	return o.stricter(o.law.Cap(site, o.formulation.Active, true))
}

func (o *option) stricter(rate quantity.ArealRate, row *rules.Row) (quantity.ArealRate, string) {
	if row != nil && rate < o.maximum {
		return rate, row.Citation
	}
	return o.maximum, o.source
}
