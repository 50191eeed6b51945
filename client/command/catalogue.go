package command

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"

	"example.org/rootward/client"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// catalogue is the command of that name.
type catalogue struct {
	Units measure.System `default:"us" placeholder:"us|metric" help:"Units: us or metric."`
}

// Run lists the catalogue.
func (k *catalogue) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Treatment.ListCatalogue(r.ctx, &treatmentv1.ListCatalogueRequest{})
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		p.Line("SPECIES")
		for _, s := range answer.GetSpecies() {
			species(p, s)
		}
		p.Heading("Formulations")
		for _, f := range answer.GetFormulations() {
			formulation(p, f, k.Units)
		}
		p.Line("")
		warn(p)
		return p.Err()
	})
}

func species(p *page.Page, s *treatmentv1.Species) {
	p.Text("  ", fmt.Sprintf("%s (%s): root suckering %s, stump sprouting %s, seed bearing %s", s.GetScientificName(), s.GetCommonName(),
		wording.Word(rules.Suckering(s.GetSuckering())), wording.Word(rules.YesNo(s.GetStumpSprouting())), wording.Word(rules.YesNo(s.GetSeedBearing()))))
	sources(p, s.GetSources())
}

func formulation(p *page.Page, f *treatmentv1.Formulation, units measure.System) {
	p.Line("  %s", f.GetFormulationId())
	p.Text("    ", fmt.Sprintf("%s: %s, %.4g g ae/L (%.4g lb ae/gal); %s", f.GetName(), f.GetActive(), f.GetGAePerL(), f.GetLbAePerGal(), methodsOf(f.GetMethods())))
	p.Text("    ", fmt.Sprintf("signal word %s; entry interval %d h; %d h without rain; at most %s a year; aquatic label %s; soil activity %s",
		f.GetSignalWord(), f.GetEntryIntervalH(), f.GetRainFreeH(), units.Rate(f.GetAnnualMaxLbAePerAc()),
		wording.Word(rules.AquaticLabel(f.GetAquaticLabel())), wording.Word(rules.SoilActivity(f.GetSoilActivity()))))
	sources(p, f.GetSources())
}

func methodsOf(list []commonv1.Method) string {
	var names []string
	for _, m := range list {
		names = append(names, wording.Method(m))
	}
	return "for " + strings.Join(names, ", ")
}

func sources(p *page.Page, bySubject map[string]string) {
	for _, subject := range slices.Sorted(maps.Keys(bySubject)) {
		p.Text("      "+strings.ReplaceAll(subject, "_", " ")+": ", bySubject[subject])
	}
}
