package command

import (
	"fmt"
	"slices"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client"
	"example.org/rootward/client/inventory"
	"example.org/rootward/client/page"
	"example.org/rootward/client/report"
)

// dose is the command of that name.
type dose struct {
	stem
	Method      word[rules.Method] `required:"" placeholder:"WORD" help:"The method: ${methods}."`
	Formulation string             `required:"" placeholder:"ID" help:"Id of the formulation; see the command catalogue."`
	doseSettings
}

// Run computes the dose.
func (d *dose) Run(r *run) error {
	stem, err := d.stem.proto()
	if err != nil {
		return err
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Treatment.CalculateDose(r.ctx, &treatmentv1.CalculateDoseRequest{
			Stem: stem, Method: commonv1.Method(d.Method.value), FormulationId: d.Formulation, Settings: d.doseSettings.proto(),
		})
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		p.Text("Dose: ", report.DoseInWords(answer.GetDose()))
		for _, step := range answer.GetWorking() {
			p.Text("  ", step)
		}
		p.Line("")
		p.Text("! ", "This is arithmetic alone. Whether the treatment is lawful, here and on a day, select and prescribe tell.")
		warn(p, answer.GetCautions()...)
		return p.Err()
	})
}

// warn writes what holds for a stem, and what always does.
func warn(p *page.Page, ofStem ...string) {
	for _, caution := range slices.Concat(ofStem, report.Always) {
		p.Text("! ", caution)
	}
}

// selection is the command select.
type selection struct {
	Date civil.Date `required:"" placeholder:"YYYY-MM-DD" help:"Day of treatment at the place. Nothing is taken from the clock."`
	ground
	stem
	stemPosition
	settings
}

// Run ranks the treatments.
func (s *selection) Run(r *run) error {
	stem, err := s.stem.proto()
	if err != nil {
		return err
	}
	if !s.Date.Known() {
		return misuse{errNoDate}
	}
	if err := s.locate(stem); err != nil {
		return err
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Treatment.SelectMethod(r.ctx, &treatmentv1.SelectMethodRequest{
			Date: rulewire.EncodeDate(s.Date), Site: s.ground.proto(), Stem: stem, Settings: s.settings.proto(),
		})
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		p.Text("", answer.GetWhy())
		p.Heading("What may be done, the best first")
		for i, choice := range answer.GetRanked() {
			p.Text(fmt.Sprintf("  %d. ", i+1), report.ChoiceInWords(choice))
		}
		if len(answer.GetRanked()) == 0 {
			p.Line("  nothing on that day")
		}
		p.Heading("What may not")
		for _, refused := range answer.GetRefused() {
			report.Against(p, refused)
		}
		p.Line("")
		warn(p, answer.GetCautions()...)
		return p.Err()
	})
}

// locate says where the stem stands. The rounding of the position is added to how far
// it may be off.
func (s *selection) locate(stem *treatmentv1.Stem) error {
	stated, err := s.stemPosition.stated()
	if err != nil || !stated {
		return err
	}
	stem.LatitudeDeg, stem.LongitudeDeg = &s.StemLatitudeDeg.value, &s.StemLongitudeDeg.value
	if around := s.metres(); around != nil {
		stem.CoordinateUncertaintyM = new(*around + inventory.Rounding(s.StemLatitudeDeg.text, s.StemLongitudeDeg.text))
	}
	return nil
}
