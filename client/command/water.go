package command

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	waterv1 "example.org/rootward/proto/gen/rootward/water/v1"
	"example.org/rootward/rules"

	"example.org/rootward/client"
	"example.org/rootward/client/inventory"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
	"example.org/rootward/client/report"
	"example.org/rootward/client/wording"
)

// waterCommands holds the commands below water.
type waterCommands struct {
	Layers  waterLayers  `cmd:"" help:"List the water layers that the server has loaded, and what each covers."`
	Measure measureWater `cmd:"" help:"Compute the distances from a position to water."`
}

type waterLayers struct{}

// Run lists the layers.
func (*waterLayers) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Water.ListLayers(r.ctx, &waterv1.ListLayersRequest{})
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		if len(answer.GetLayers()) == 0 {
			p.Text("", "The server has no water layers: no distance is computed. Start it with --water DIR.")
			return p.Err()
		}
		for _, l := range answer.GetLayers() {
			layer(p, l)
		}
		p.Line("")
		p.Line("The index takes %s; reading took %d ms.", megabytes(answer.GetIndexBytes()), answer.GetLoadMs())
		return p.Err()
	})
}

// megabytes is rough, as the figure is: what the index takes is a difference of heaps.
func megabytes(bytes int64) string {
	if bytes < 1_000_000 {
		return "less than 1 MB"
	}
	return fmt.Sprintf("about %d MB", bytes/1_000_000)
}

func layer(p *page.Page, l *waterv1.Layer) {
	p.Line("%s: features %d, edges %d", wording.WaterLayer(l.GetRef()), l.GetFeatures(), l.GetEdges())
	for _, c := range l.GetCoverages() {
		origin := "starts nobody says where: it keeps no buffer"
		if c.GetOrigin() != 0 {
			origin = "from the " + wording.Word(rules.DistanceOrigin(c.GetOrigin()))
		}
		covered := "NOT said to be all there is: it may forbid, and allows nothing"
		if len(c.GetArea()) > 0 {
			covered = "all there is, " + around(c.GetArea())
		}
		p.Text("  ", fmt.Sprintf("%s: features %d, %s; %s", wording.Word(rules.WaterClass(c.GetWaterClass())), c.GetFeatures(), origin, covered))
	}
}

// around names the box around an area, which the area need not fill.
func around(area []*treatmentv1.Ring) string {
	var latitudes, longitudes []float64
	for _, r := range area {
		latitudes, longitudes = append(latitudes, r.GetLatitudeDeg()...), append(longitudes, r.GetLongitudeDeg()...)
	}
	if len(latitudes) == 0 || len(longitudes) == 0 {
		return "within nothing"
	}
	return fmt.Sprintf("within latitudes %g to %g and longitudes %g to %g", slices.Min(latitudes), slices.Max(latitudes), slices.Min(longitudes), slices.Max(longitudes))
}

type measureWater struct {
	LatitudeDeg  degrees `required:"" placeholder:"N" help:"Latitude in degrees of WGS 84, north above 0; write --latitude-deg=-41.2 for the south."`
	LongitudeDeg degrees `required:"" placeholder:"N" help:"Longitude in degrees of WGS 84, east above 0; write --longitude-deg=-79.5 for the west."`
	uncertainty
	WithinFt *float64       `xor:"within" placeholder:"N" help:"How far to look, in feet."`
	WithinM  *float64       `xor:"within" placeholder:"N" help:"How far to look, in metres."`
	Units    measure.System `default:"us" placeholder:"us|metric" help:"Units: us or metric."`
}

// Run measures.
func (m *measureWater) Run(r *run) error {
	within := either(m.WithinM, times(m.WithinFt, mPerFoot))
	if within == nil {
		return misuse{errors.New("state by --within-ft or --within-m how far to look")}
	}
	around := m.metres()
	if around == nil {
		return misuse{errors.New("state by --coordinate-uncertainty-ft or --coordinate-uncertainty-m how far the true position may lie from it")}
	}
	rounding := inventory.Rounding(m.LatitudeDeg.text, m.LongitudeDeg.text)
	return r.with(func(c *client.Client) error {
		answer, err := c.Water.MeasureDistance(r.ctx, &waterv1.MeasureDistanceRequest{
			LatitudeDeg: m.LatitudeDeg.value, LongitudeDeg: m.LongitudeDeg.value, CoordinateUncertaintyM: *around + rounding, WithinM: *within,
		})
		if err != nil {
			return err
		}
		return m.write(page.On(r.stdout), answer, rounding)
	})
}

func (m *measureWater) write(p *page.Page, answer *waterv1.MeasureDistanceResponse, rounding float64) error {
	p.Text("", fmt.Sprintf("From %s, %s. The position may lie %s off by its own rounding, which is taken off like its uncertainty; so no distance is longer than the true one.",
		m.LatitudeDeg.text, m.LongitudeDeg.text, m.Units.Length(rounding)))
	report.Water(p, answer.GetDistances(), m.Units)
	if len(answer.GetUnknown()) > 0 {
		var names []string
		for _, c := range answer.GetUnknown() {
			names = append(names, wording.Word(rules.WaterClass(c)))
		}
		p.Text("  not known there: ", strings.Join(names, ", "))
	}
	return p.Err()
}

// uncertainty is how far a position may be off.
type uncertainty struct {
	CoordinateUncertaintyFt *aboveZero `xor:"uncertainty" placeholder:"N" help:"How far true positions may lie from the stated ones, in feet, where coordinateUncertaintyInMeters is not stated. Without either no distance to water is computed."`
	CoordinateUncertaintyM  *aboveZero `xor:"uncertainty" placeholder:"N" help:"The same in metres."`
}

func (u *uncertainty) metres() *float64 {
	return either((*float64)(u.CoordinateUncertaintyM), times((*float64)(u.CoordinateUncertaintyFt), mPerFoot))
}

// aboveZero is a number that 0 would make out to be known exactly.
type aboveZero float64

// UnmarshalText reads a number above 0.
func (a *aboveZero) UnmarshalText(text []byte) error {
	v, err := strconv.ParseFloat(string(text), 64)
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return fmt.Errorf("%q is not a number", text)
	case v <= 0:
		return fmt.Errorf("%s is not above 0; leave the flag out where it is not known", text)
	}
	*a = aboveZero(v)
	return nil
}

// degrees is half a position, as it was written: its decimals tell how far it was
// rounded.
type degrees struct {
	text  string
	value float64
}

// UnmarshalText reads a plain decimal number.
func (d *degrees) UnmarshalText(text []byte) error {
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil || strings.Trim(string(text), "+-.0123456789") != "" {
		return fmt.Errorf("%q is not a decimal number of degrees", text)
	}
	d.text, d.value = string(text), v
	return nil
}

// stemPosition is where one stem stands, by flags.
type stemPosition struct {
	StemLatitudeDeg  degrees `placeholder:"N" help:"Latitude of the stem in degrees, from which distances to water are computed, with --coordinate-uncertainty-."`
	StemLongitudeDeg degrees `placeholder:"N" help:"Longitude of the stem in degrees."`
}

// stated reports whether there is a position, and complains of half of one.
func (s *stemPosition) stated() (bool, error) {
	if (s.StemLatitudeDeg.text == "") != (s.StemLongitudeDeg.text == "") {
		return false, misuse{errors.New("--stem-latitude-deg and --stem-longitude-deg make a position together; give both or none")}
	}
	return s.StemLatitudeDeg.text != "", nil
}
