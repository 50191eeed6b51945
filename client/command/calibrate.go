package command

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
)

// calibrate holds the commands below that name.
type calibrate struct {
	Walk  walk  `cmd:"" help:"Gallons per acre from output, speed and width."`
	Plot  plot  `cmd:"" help:"Gallons per acre from what is sprayed on 1/128 of an acre."`
	Weigh weigh `cmd:"" help:"Millilitres per square inch of bark, from the sprayer's weight before and after."`
}

type walk struct {
	OutputGalPerMin float64 `required:"" placeholder:"N" help:"Output in gallons per minute."`
	DistanceFt      float64 `required:"" placeholder:"N" help:"Distance walked or driven in feet."`
	TimeS           float64 `required:"" placeholder:"N" help:"Time for it in seconds."`
	SwathIn         float64 `required:"" placeholder:"N" help:"Width of the swath in inches."`
}

// Run calibrates by time and distance.
func (w *walk) Run(r *run) error {
	return ask(r, &treatmentv1.CalibrateRequest{Measurement: &treatmentv1.CalibrateRequest_TimeDistance{TimeDistance: &treatmentv1.TimeDistance{
		OutputGalPerMin: w.OutputGalPerMin, DistanceFt: w.DistanceFt, TimeS: w.TimeS, SwathIn: w.SwathIn}}})
}

type plot struct {
	LengthFt   float64 `required:"" placeholder:"N" help:"Length of the plot in feet; 18.5 by 18.5 ft is 1/128 acre."`
	WidthFt    float64 `required:"" placeholder:"N" help:"Width of the plot in feet."`
	CaughtFlOz float64 `required:"" placeholder:"N" help:"Fluid ounces sprayed on it."`
}

// Run calibrates by a small plot.
func (p *plot) Run(r *run) error {
	return ask(r, &treatmentv1.CalibrateRequest{Measurement: &treatmentv1.CalibrateRequest_SmallPlot{SmallPlot: &treatmentv1.SmallPlot{
		LengthFt: p.LengthFt, WidthFt: p.WidthFt, CaughtFlOz: p.CaughtFlOz}}})
}

type weigh struct {
	BeforeG       float64  `required:"" placeholder:"N" help:"Weight of the sprayer before, in grams."`
	AfterG        float64  `required:"" placeholder:"N" help:"Weight afterwards, in grams."`
	DensityGPerMl float64  `name:"density-g-per-ml" required:"" placeholder:"N" help:"Density of the mix in grams per millilitre."`
	StemsIn       []string `required:"" placeholder:"DIAMETERxBAND[xCOUNT]" help:"Stems that were treated: diameter and height of the band in inches, and how many, as 4x15x12."`
}

// Run calibrates by weighing.
func (w *weigh) Run(r *run) error {
	measured := &treatmentv1.Weighing{BeforeG: w.BeforeG, AfterG: w.AfterG, DensityGPerMl: w.DensityGPerMl}
	var faults []error
	for _, text := range w.StemsIn {
		stem, err := treatedStem(text)
		if err != nil {
			faults = append(faults, fmt.Errorf("--stems-in %q: %w", text, err))
		}
		measured.Stems = append(measured.Stems, stem)
	}
	if err := errors.Join(faults...); err != nil {
		return misuse{err}
	}
	return ask(r, &treatmentv1.CalibrateRequest{Measurement: &treatmentv1.CalibrateRequest_Weighing{Weighing: measured}})
}

func treatedStem(text string) (*treatmentv1.TreatedStem, error) {
	parts := strings.Split(text, "x")
	if len(parts) == 2 {
		parts = append(parts, "1")
	}
	if len(parts) != 3 {
		return nil, errors.New("is not DIAMETERxBAND or DIAMETERxBANDxCOUNT, as 4x15x12")
	}
	diameter, err := positiveOrZero(parts[0])
	if err != nil {
		return nil, err
	}
	band, err := positiveOrZero(parts[1])
	if err != nil {
		return nil, err
	}
	count, err := strconv.ParseInt(parts[2], 10, 64)
	if err != nil {
		return nil, fmt.Errorf("%q is not a whole number of stems", parts[2])
	}
	return &treatmentv1.TreatedStem{DiameterIn: diameter, BandIn: band, Count: count}, nil
}

func ask(r *run, request *treatmentv1.CalibrateRequest) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Treatment.Calibrate(r.ctx, request)
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		if answer.GalPerAc != nil {
			p.Line("%.4g gal/ac (%.4g L/ha)", answer.GetGalPerAc(), answer.GetLPerHa())
			p.Line("as --low-volume-gal-per-ac or --high-volume-gal-per-ac")
		}
		if answer.WettingMlPerIn2 != nil {
			p.Line("%.4g mL per square inch of bark", answer.GetWettingMlPerIn2())
			p.Line("as --wetting-ml-per-in2")
		}
		for _, step := range answer.GetWorking() {
			p.Text("  ", step)
		}
		return p.Err()
	})
}
