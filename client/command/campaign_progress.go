package command

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client"
	"example.org/rootward/client/decline"
	"example.org/rootward/client/measure"
)

// siteProgress is the command progress.
type siteProgress struct {
	Site       string         `arg:"" help:"Name of the site: sites/ID."`
	Date       civil.Date     `required:"" placeholder:"YYYY-MM-DD" help:"The day, at the place. Nothing is taken from the clock."`
	Units      measure.System `default:"us" placeholder:"us|metric" help:"Units: us or metric."`
	OutSvg     string         `placeholder:"FILE.svg" help:"Draw the decline: stems and basal area by day, and what was expected."`
	OutMap     string         `placeholder:"FILE.svg" help:"Draw where to look for suckers."`
	OutGeojson string         `placeholder:"FILE" help:"Write where to look as GeoJSON."`
	JSON       bool           `name:"json" help:"Show everything as JSON instead."`
}

// Run shows how a site stands.
func (a *siteProgress) Run(r *run) error {
	if !a.Date.Known() {
		return misuse{errors.New("--date is empty; state the day as YYYY-MM-DD")}
	}
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.GetProgress(r.ctx, &campaignv1.GetProgressRequest{Name: a.Site + "/progress", Date: rulewire.EncodeDate(a.Date)})
		if err != nil {
			return err
		}
		return a.show(r, answer.GetProgress())
	})
}

func (a *siteProgress) show(r *run, p *campaignv1.Progress) error {
	chart := a.chart(p)
	for _, out := range []struct {
		path  string
		write func(io.Writer) error
	}{
		{a.OutSvg, chart.WriteSVG}, {a.OutMap, a.areaMap(p).WriteSVG},
		{a.OutGeojson, func(w io.Writer) error { return writeAreaGeoJSON(w, p) }},
	} {
		if out.path == "" {
			continue
		}
		if err := writeFile(out.path, out.write); err != nil {
			return err
		}
	}
	if a.JSON {
		return whole(r, p)
	}
	return a.print(r, p, chart)
}

// writeFile writes a file that appears only when it is complete.
func writeFile(path string, write func(io.Writer) error) error {
	o, err := createOutput(path, "")
	if err != nil {
		return err
	}
	defer o.drop()
	if err := errors.Join(write(o), o.finish()); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return o.publish()
}

// chart is the decline of a site.
func (a *siteProgress) chart(p *campaignv1.Progress) *decline.Chart {
	c := &decline.Chart{Title: "Decline on " + a.Site, Units: a.Units}
	for _, d := range p.GetTreated() {
		day, _ := rulewire.DecodeDate(d)
		c.Treated = append(c.Treated, day)
	}
	for _, d := range p.GetDecline() {
		day, _ := rulewire.DecodeDate(d.GetDate())
		point := decline.Point{On: day, Gap: d.GetGap(), Stems: d.Stems, BasalArea: d.BasalAreaFt2, Partial: d.GetPartial()}
		if d.ExpectedStemsLow != nil && d.ExpectedStemsHigh != nil {
			point.Expected = &decline.Band{Low: d.GetExpectedStemsLow(), High: d.GetExpectedStemsHigh()}
		}
		switch d.GetVerdict() {
		case "as expected":
			point.Verdict = "as expected"
		case "worse than expected":
			point.Verdict = "WORSE"
		}
		c.Points = append(c.Points, point)
	}
	return c
}

// areaMap is where to look.
func (a *siteProgress) areaMap(p *campaignv1.Progress) *decline.Map {
	area := p.GetInspectionArea()
	m := &decline.Map{Title: "Where to look on " + a.Site, Units: a.Units, AreaM2: area.AreaM2, Unplaced: len(area.GetWithoutPosition())}
	for _, ring := range area.GetRings() {
		m.Rings = append(m.Rings, positions(ring))
	}
	for _, at := range area.GetPlaces() {
		s := decline.Stem{At: decline.Position{Latitude: at.GetLatitudeDeg(), Longitude: at.GetLongitudeDeg()}}
		switch at.GetState() {
		case "alive":
			s.Kind, s.Label = decline.Alive, at.GetStemId()
		case "gone":
			s.Kind = decline.Gone
		}
		m.Stems = append(m.Stems, s)
	}
	return m
}

func positions(ring *treatmentv1.Ring) []decline.Position {
	n := min(len(ring.GetLatitudeDeg()), len(ring.GetLongitudeDeg()))
	list := make([]decline.Position, n)
	for i := range n {
		list[i] = decline.Position{Latitude: ring.GetLatitudeDeg()[i], Longitude: ring.GetLongitudeDeg()[i]}
	}
	return list
}

// writeAreaGeoJSON writes the inspection area as one Feature (RFC 7946).
func writeAreaGeoJSON(w io.Writer, p *campaignv1.Progress) error {
	area := p.GetInspectionArea()
	if len(area.GetRings()) == 0 {
		return errors.New("no treated stem has a position: measure them, and add them to the survey")
	}
	var polygons [][][][2]float64
	for _, ring := range area.GetRings() {
		var line [][2]float64
		for _, at := range positions(ring) {
			line = append(line, [2]float64{at.Longitude, at.Latitude})
		}
		if turn(line) > 0 || len(polygons) == 0 {
			polygons = append(polygons, nil)
		}
		last := len(polygons) - 1
		polygons[last] = append(polygons[last], line)
	}
	date, _ := rulewire.DecodeDate(p.GetDate())
	properties := map[string]any{"name": p.GetName(), "date": date, "radius_m": area.GetRadiusM(), "unknown": area.GetUnknown()}
	if area.AreaM2 != nil {
		properties["area_m2"] = area.GetAreaM2()
	}
	text, err := json.MarshalIndent(map[string]any{
		"type": "Feature", "properties": properties,
		"geometry": map[string]any{"type": "MultiPolygon", "coordinates": polygons},
	}, "", " ")
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, strings.TrimRight(string(text), "\n")+"\n")
	return err
}

// turn is above zero for a line that goes round counter-clockwise. A ring over
// longitude 180 is short, so that its steps are told from it.
func turn(line [][2]float64) float64 {
	sum := 0.0
	for i := range len(line) - 1 {
		ax, bx := fromFirst(line, i), fromFirst(line, i+1)
		sum += ax*(line[i+1][1]-line[0][1]) - bx*(line[i][1]-line[0][1])
	}
	return sum
}

// fromFirst is how far east of a line's first position another lies, in degrees.
func fromFirst(line [][2]float64, i int) float64 {
	d := line[i][0] - line[0][0]
	switch {
	case d > 180:
		return d - 360
	case d < -180:
		return d + 360
	}
	return d
}
