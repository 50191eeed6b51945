package fieldsheet_test

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
	"example.org/rootward/client/fieldsheet"
	"example.org/rootward/client/inventory"
	"example.org/rootward/client/measure"
)

var update = flag.Bool("update", false, "write the golden files anew")

func heading(units measure.System) *fieldsheet.Heading {
	return &fieldsheet.Heading{
		Inventory: "inventory.csv", Date: clienttest.Date, Units: units, Result: clienttest.Result(), Effects: clienttest.Effects(),
		Settings: &treatmentv1.Settings{Standing: commonv1.Standing_STANDING_CERTIFIED},
	}
}

func write(t *testing.T, rows []*client.Row, h *fieldsheet.Heading) string {
	t.Helper()
	var s fieldsheet.Sheet
	for _, r := range rows {
		require.NoError(t, s.Row(r))
	}
	var out bytes.Buffer
	require.NoError(t, s.Write(&out, h))
	return out.String()
}

func TestSheet(t *testing.T) {
	for name, units := range map[string]measure.System{"sheet_us.html": measure.US, "sheet_metric.html": measure.Metric} {
		got := write(t, clienttest.Rows(t), heading(units))
		path := filepath.Join("testdata", name)
		if *update {
			require.NoError(t, os.MkdirAll("testdata", 0o755))
			require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.True(t, string(want) == got, "%s differs; run go test ./client/fieldsheet -update, and look at the difference", name)
	}
}

// A US fluid ounce is 29.5735295625 mL (231 cubic inches a gallon, by definition): 1514.1 mL
// fill 51.1 of it. Less than one stays a syringe's.
func TestADoseThatFillsAUSMeasureIsGivenByIt(t *testing.T) {
	us, metric := write(t, clienttest.Rows(t), heading(measure.US)), write(t, clienttest.Rows(t), heading(measure.Metric))
	assert.Contains(t, us, `1514<br/><small>51.1 fl oz</small></td>`)
	assert.Contains(t, us, `<td class="number">2</td><td class="number">1</td><td class="sign">`)
	assert.Contains(t, metric, `<td class="number">1514</td>`)
}

func TestALoadThatCannotBeMeasuredIsSaidToBeSo(t *testing.T) {
	h := heading(measure.US)
	h.Result.Summary.Mixes[0].LastLoad = &treatmentv1.Load{MixGal: 0.00052834411, ProductMl: 0.1, CarrierGal: 0.0005, CarrierL: 0.0019, AdjuvantMl: 0.01}
	sheet := write(t, clienttest.Rows(t), h)
	assert.Contains(t, sheet, `<td>The only load<br/><b>Too little to measure: mix a larger load, of the same shares</b></td>`)
	assert.Contains(t, sheet, "<td>2 mL</td>\n<td><b>under 0.5 mL</b></td>\n<td>water 1.9 mL</td>\n<td>under 0.5 mL</td>")
	assert.NotContains(t, write(t, clienttest.Rows(t), heading(measure.US)), "Too little")
}

func TestNothingComesFromOutsideAndNothingRuns(t *testing.T) {
	sheet := write(t, clienttest.Rows(t), heading(measure.US))
	for _, forbidden := range []string{"http:", "https:", "<script", "<link", "<img", "<iframe", "@import", "url(", "onclick=\"x"} {
		assert.NotContains(t, strings.ToLower(sheet), forbidden)
	}
	for _, href := range regexp.MustCompile(`(?:href|src)="([^"]*)"`).FindAllStringSubmatch(sheet, -1) {
		assert.True(t, strings.HasPrefix(href[1], "#s-"), href[1])
		assert.Contains(t, sheet, `<symbol id="`+href[1][1:]+`"`)
	}
}

// The ids of the fixture hold markup; they come out as text.
func TestNamesAreEscaped(t *testing.T) {
	sheet := write(t, clienttest.Rows(t), heading(measure.US))
	assert.NotContains(t, sheet, `<b onclick`)
	assert.Contains(t, sheet, `&lt;b onclick=&#34;x()&#34;&gt;b-2&lt;/b&gt;`)
	assert.Contains(t, sheet, `bank &amp; &#34;brook&#34;`)
}

func TestTheSheetIsWellFormed(t *testing.T) {
	sheet := write(t, clienttest.Rows(t), heading(measure.US))
	decoder := xml.NewDecoder(strings.NewReader(sheet))
	decoder.Entity = xml.HTMLEntity
	for {
		if _, err := decoder.Token(); err != nil {
			assert.Equal(t, io.EOF, err) // every element is closed
			return
		}
	}
}

func TestEachStemStandsOnceAndOnTheRightSide(t *testing.T) {
	for _, r := range clienttest.Rows(t) {
		sheet := write(t, []*client.Row{r}, heading(measure.US))
		treat := strings.Count(sheet, `<td class="tick"><span class="box"></span></td>`)
		leave := strings.Count(sheet, `<li><span class="cross">`)
		want := map[treatmentv1.Outcome][2]int{
			treatmentv1.Outcome_OUTCOME_PRESCRIBED: {1, 0}, treatmentv1.Outcome_OUTCOME_DEFERRED: {0, 1},
			treatmentv1.Outcome_OUTCOME_UNDETERMINED: {0, 1}, treatmentv1.Outcome_OUTCOME_REJECTED: {0, 0},
		}[r.Outcome]
		assert.Equal(t, want, [2]int{treat, leave}, r.Record.Stem.GetStemId())
		if r.Outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
			assert.Contains(t, sheet, fmt.Sprintf("<li>line %d", r.Record.Line))
		}
	}
}

func TestTheUsualCautionsStandOnEverySheet(t *testing.T) {
	for _, rows := range [][]*client.Row{nil, clienttest.Rows(t)} {
		sheet := write(t, rows, heading(measure.US))
		assert.Equal(t, 2, strings.Count(sheet, "The label is the law and stands above this plan."))
		assert.Equal(t, 2, strings.Count(sheet, "Local codes and the judgement of a licensed practitioner stand above this plan."))
	}
}

func TestASheetIsBounded(t *testing.T) {
	var s fieldsheet.Sheet
	row := clienttest.Rows(t)[0]
	for range fieldsheet.MaxRows {
		require.NoError(t, s.Row(row))
	}
	assert.ErrorContains(t, s.Row(row), "--site")
}

func TestAMapOfPatchesShowsTheirOutlines(t *testing.T) {
	reader, err := inventory.NewGeoJSON(strings.NewReader(`{"type":"FeatureCollection","features":[
{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[-38.02,43.0],[-38.019,43.0],[-38.019,43.001],[-38.02,43.001],[-38.02,43.0]]]},
"properties":{"occurrenceID":"p-1","scientificName":"Ailanthus altissima","locationID":"s","place":"us/velmora","form":"root_sucker"}}]}`))
	require.NoError(t, err)
	records := clienttest.ReadAll(t, reader)
	require.Empty(t, records[0].Faults)
	row := &client.Row{Record: records[0], Outcome: treatmentv1.Outcome_OUTCOME_UNDETERMINED, Explanation: &treatmentv1.Explanation{Why: "unknown"}}
	sheet := write(t, []*client.Row{row}, heading(measure.Metric))
	assert.Equal(t, 1, strings.Count(sheet, `stroke-dasharray`))
	assert.Equal(t, 1, strings.Count(sheet, `<text x=`)-strings.Count(sheet, `<text x="4"`)-strings.Count(sheet, `<text x="8"`), "the row's number")
}

var mark = regexp.MustCompile(`<use href="#s-[a-z]+" x="([0-9.]+)" y="([0-9.]+)"`)

// Two stems 100 m apart on the ground, as a geodesic solver has it (GeographicLib's
// GeodSolve: from 43 N 38 W, azimuths 0 and 90), are as far apart on the map as the
// scale bar says.
func TestTheScaleBarAgreesWithTheGround(t *testing.T) {
	for name, end := range map[string]string{"north": "43.00090014879,-38", "east": "42.99999999343,-37.99877362260"} {
		t.Run(name, func(t *testing.T) {
			reader, err := inventory.NewCSV(strings.NewReader("occurrenceID,scientificName,locationID,place,form,decimalLatitude,decimalLongitude\n" +
				"a,Ailanthus altissima,s,us/velmora,tree,43,-38\nb,Ailanthus altissima,s,us/velmora,tree," + end + "\n"))
			require.NoError(t, err)
			var rows []*client.Row
			for _, r := range clienttest.ReadAll(t, reader) {
				rows = append(rows, &client.Row{Record: r, Outcome: treatmentv1.Outcome_OUTCOME_UNDETERMINED, Explanation: &treatmentv1.Explanation{}})
			}
			sheet := write(t, rows, heading(measure.Metric))
			marks := mark.FindAllStringSubmatch(sheet, -1)
			require.Len(t, marks, 2)
			var ax, ay, bx, by, length, metres float64
			scan(t, marks[0][1], &ax)
			scan(t, marks[0][2], &ay)
			scan(t, marks[1][1], &bx)
			scan(t, marks[1][2], &by)
			bar := regexp.MustCompile(`M0-4V0H([0-9.]+)V-4".*?>([0-9]+) m`).FindStringSubmatch(sheet)
			scan(t, bar[1], &length)
			scan(t, bar[2], &metres)
			apart := max(bx-ax, ay-by)
			assert.InDelta(t, 100, apart/length*metres, 0.1)
		})
	}
}

func scan(t *testing.T, s string, v *float64) {
	t.Helper()
	_, err := fmt.Sscan(s, v)
	require.NoError(t, err)
}
