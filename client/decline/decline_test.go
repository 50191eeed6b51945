package decline_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/client/decline"
	"example.org/rootward/client/measure"
	"example.org/rootward/rules/civil"
)

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, string(want) == got, "%s differs; run go test ./client/decline -update, and look at the difference", name)
}

func number(v float64) *float64 { return &v }

// chart is four years of an invented stand. The bands are those of glyphosate by stem
// injection, 82.3 to 91.7 percent (T18: Arboriculture & Urban Forestry 33(1), January
// 2007, pp. 57-59).
func chart(units measure.System) *decline.Chart {
	return &decline.Chart{
		Title: "Decline on sites/north-bank", Units: units,
		Treated: []civil.Date{civil.Of(2026, 8, 10), civil.Of(2027, 8, 2)},
		Points: []decline.Point{
			{On: civil.Of(2026, 7, 1), Stems: number(412), BasalArea: number(38.25)},
			{On: civil.Of(2027, 6, 20), Stems: number(71), BasalArea: number(2.4), Expected: &decline.Band{Low: 34.2, High: 73}, Verdict: "as expected"},
			{On: civil.Of(2028, 6, 12), Stems: number(22), Expected: &decline.Band{Low: 5.9, High: 13}, Verdict: "WORSE"},
			{On: civil.Of(2028, 7, 30), Stems: number(9), BasalArea: number(0.1), Partial: true},
			{On: civil.Of(2029, 8, 31), Gap: "2029"},
			{On: civil.Of(2030, 7, 1), Stems: number(0), BasalArea: number(0), Expected: &decline.Band{Low: 5.9, High: 13}, Verdict: "as expected"},
		},
	}
}

func TestChart(t *testing.T) {
	for name, units := range map[string]measure.System{"us": measure.US, "metric": measure.Metric} {
		var svg, text bytes.Buffer
		require.NoError(t, chart(units).WriteSVG(&svg))
		require.NoError(t, chart(units).WriteText(&text))
		golden(t, "decline_"+name+".svg", svg.String())
		golden(t, "decline_"+name+".txt", text.String())
	}
}

func disc(at decline.Position, r float64, turns int) []decline.Position {
	var ring []decline.Position
	for n := range 49 {
		sin, cos := math.Sincos(float64(turns*n) * math.Pi / 24)
		ring = append(ring, decline.Position{Latitude: at.Latitude + r*sin/111_000, Longitude: at.Longitude + r*cos/84_600})
	}
	return ring
}

func site(units measure.System) *decline.Map {
	m := &decline.Map{Title: "Where to look on sites/north-bank", Units: units, AreaM2: number(11_400)}
	middle := decline.Position{Latitude: 40.4, Longitude: -75.2}
	m.Rings = [][]decline.Position{disc(middle, 70, 1), disc(middle, 25, -1)}
	for n, p := range disc(middle, 48, 1)[:48] {
		if n%4 == 0 {
			m.Stems = append(m.Stems, decline.Stem{At: p, Kind: decline.StemKind(n / 4 % 3), Label: fmt.Sprint("t-", n)})
		}
	}
	return m
}

func TestMap(t *testing.T) {
	for name, units := range map[string]measure.System{"us": measure.US, "metric": measure.Metric} {
		var svg bytes.Buffer
		require.NoError(t, site(units).WriteSVG(&svg))
		golden(t, "map_"+name+".svg", svg.String())
	}
	unplaced := site(measure.US)
	unplaced.Unplaced = 2
	var svg bytes.Buffer
	require.NoError(t, unplaced.WriteSVG(&svg))
	assert.Contains(t, svg.String(), "NOT KNOWN: 2 treated rows have no position")
	assert.ErrorContains(t, (&decline.Map{}).WriteSVG(io.Discard), "no treated stem has a position")
}

// check reads a file as XML, and for what must not be in it.
func check(t require.TestingT, svg string) {
	var marks struct {
		Title string `xml:"title"`
		Desc  string `xml:"desc"`
	}
	require.NoError(t, xml.Unmarshal([]byte(svg), &marks), svg)
	assert.NotEmpty(t, marks.Title)
	assert.NotEmpty(t, marks.Desc)
	lower := strings.ToLower(strings.ReplaceAll(svg, `xmlns="http://www.w3.org/2000/svg"`, ""))
	for _, forbidden := range []string{"http", "<script", "<style", "<image", "@import", "url(", "href", "nan", "inf\"", "+inf"} {
		assert.NotContains(t, lower, forbidden)
	}
}

// Whatever is drawn is XML, has nothing from outside, and is the same twice; text keeps
// to 72 columns.
func TestAnyChart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &decline.Chart{Title: rapid.SampledFrom([]string{"plain", "a < b & \"c\" \x00 \u202e", "x"}).Draw(t, "title"), Units: measure.System(rapid.IntRange(0, 1).Draw(t, "units"))}
		value := func() *float64 {
			return rapid.SampledFrom([]*float64{nil, number(0), number(1), number(0.004), number(123.4), number(9e7), number(-1), number(math.NaN()), number(math.Inf(1))}).Draw(t, "value")
		}
		day := civil.Of(2026, 6, 1)
		for range rapid.IntRange(0, 7).Draw(t, "points") {
			day = day.AddDays(rapid.IntRange(0, 500).Draw(t, "days"))
			p := decline.Point{On: day, Stems: value(), BasalArea: value(), Partial: rapid.Bool().Draw(t, "partial")}
			if rapid.Bool().Draw(t, "expected") {
				p.Expected = &decline.Band{Low: rapid.Float64().Draw(t, "low"), High: rapid.Float64Range(0, 1e6).Draw(t, "high")}
				p.Verdict = "worse than expected, by a lot of stems that should be dead"
			}
			if rapid.IntRange(0, 3).Draw(t, "gap") == 0 {
				p = decline.Point{On: day, Gap: "2029/30"}
			}
			c.Points = append(c.Points, p)
		}
		if rapid.Bool().Draw(t, "treated") {
			c.Treated = []civil.Date{0, civil.Of(2027, 8, 1)}
		}
		var a, b, text bytes.Buffer
		require.NoError(t, c.WriteSVG(&a))
		require.NoError(t, c.WriteSVG(&b))
		assert.Equal(t, a.String(), b.String())
		check(t, strings.ReplaceAll(a.String(), "infinity", ""))
		require.NoError(t, c.WriteText(&text))
		for line := range strings.Lines(text.String()) {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 73, line)
		}
	})
}

func TestMapsAreWellFormed(t *testing.T) {
	for _, m := range []*decline.Map{
		site(measure.US),
		{Title: "<one>", Stems: []decline.Stem{{At: decline.Position{Latitude: -33, Longitude: 179.99999}, Label: "&"}}},
		{Title: "over the antimeridian", Stems: []decline.Stem{{At: decline.Position{Latitude: -33, Longitude: 179.9999}}, {At: decline.Position{Latitude: -33, Longitude: -179.9999}}}, AreaM2: number(700)},
	} {
		var svg bytes.Buffer
		require.NoError(t, m.WriteSVG(&svg))
		check(t, svg.String())
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestAnErrorOfTheFileIsTold(t *testing.T) {
	assert.ErrorContains(t, chart(measure.US).WriteSVG(broken{}), "no room")
	assert.ErrorContains(t, chart(measure.US).WriteText(broken{}), "no room")
	assert.ErrorContains(t, site(measure.US).WriteSVG(broken{}), "no room")
}
