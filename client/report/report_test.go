package report_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
	"example.org/rootward/client/inventory"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/report"
)

func writeCSV(t *testing.T, rows []*client.Row) string {
	t.Helper()
	var out bytes.Buffer
	table, err := report.NewCSV(&out, report.Columns())
	require.NoError(t, err)
	for _, r := range rows {
		require.NoError(t, table.Row(r))
	}
	require.NoError(t, table.Flush())
	return out.String()
}

func writeGeoJSON(t *testing.T, rows []*client.Row) []byte {
	t.Helper()
	var out bytes.Buffer
	collection := report.NewGeoJSON(&out, report.Columns())
	for _, r := range rows {
		require.NoError(t, collection.Row(r))
	}
	require.NoError(t, collection.Close())
	return out.Bytes()
}

func summarise(t *testing.T, rows []*client.Row, o report.Overview) string {
	t.Helper()
	var tally report.Tally
	for _, r := range rows {
		require.NoError(t, tally.Row(r))
	}
	var out bytes.Buffer
	require.NoError(t, tally.Summary(&out, &o))
	return out.String()
}

func overview(units measure.System) report.Overview {
	return report.Overview{
		Inventory: "inventory.csv", Date: clienttest.Date, Units: units, Result: clienttest.Result(), Effects: clienttest.Effects(),
		Settings: &treatmentv1.Settings{Standing: commonv1.Standing_STANDING_CERTIFIED},
	}
}

func TestResultFiles(t *testing.T) {
	rows := clienttest.Rows(t)
	golden(t, "result.csv", []byte(writeCSV(t, rows)))
	golden(t, "result.geojson", writeGeoJSON(t, rows))
	golden(t, "summary_us.txt", []byte(summarise(t, rows, overview(measure.US))))
	golden(t, "summary_metric.txt", []byte(summarise(t, rows, overview(measure.Metric))))
}

func TestReasoning(t *testing.T) {
	var out bytes.Buffer
	for _, r := range clienttest.Rows(t) {
		reasoning := report.Reasoning{Row: r, Date: clienttest.Date, Settings: overview(measure.US).Settings, Units: measure.US, Working: []string{"mix = cuts × mix per cut = 2 × 1 mL = 2 mL"}}
		require.NoError(t, reasoning.Write(&out))
		out.WriteString("----\n")
	}
	golden(t, "reasoning.txt", out.Bytes())
}

func TestReasoningTellsWhereRuleSetsDiffer(t *testing.T) {
	r := *clienttest.Rows(t)[0]
	r.Explanation = proto.CloneOf(r.Explanation)
	r.Explanation.Conflicts = []string{"velmora/lake asks: more; federal/lake asks: less; velmora/lake is the stricter and holds."}
	var out bytes.Buffer
	require.NoError(t, (&report.Reasoning{Row: &r, Date: clienttest.Date, Units: measure.US}).Write(&out))
	assert.Contains(t, out.String(), "\n  standing not stated (--standing)\n")
	assert.Contains(t, out.String(), "WHERE RULE SETS ASK FOR DIFFERENT THINGS\n  - velmora/lake asks: more;")
}

// A crew that treats on the last day must not read the date of the first as leave.
func TestTheWaitBeforeFellingCountsFromTheTreatment(t *testing.T) {
	from := &date.Date{Year: 2027, Month: 12, Day: 20}
	for name, c := range map[string]struct {
		fell *date.Date
		want string
	}{
		"over the end of a year": {&date.Date{Year: 2028, Month: 1, Day: 19},
			"treat from 2027-12-20; fell no sooner than 30 days after the day of treatment (2028-01-19 if treated on the first day)"},
		"over a leap day": {&date.Date{Year: 2028, Month: 3, Day: 1},
			"treat from 2027-12-20; fell no sooner than 72 days after the day of treatment (2028-03-01 if treated on the first day)"},
		"not to be felled": {nil, "treat from 2027-12-20"},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, c.want, report.Dates(&treatmentv1.Dates{TreatFrom: from, FellFrom: c.fell}))
		})
	}
}

func TestTheFormatIsDocumented(t *testing.T) {
	const path, start, end = "../../docs/result-format.md", "<!-- columns -->\n", "<!-- end of columns -->"
	var table strings.Builder
	table.WriteString("| column | holds |\n|---|---|\n")
	for _, c := range report.Columns() {
		fmt.Fprintf(&table, "| `%s` | %s |\n", c.Name, c.Meaning)
	}
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	head, rest, found := strings.Cut(string(content), start)
	require.True(t, found)
	documented, tail, found := strings.Cut(rest, end)
	require.True(t, found)
	if *update {
		documented = table.String()
		require.NoError(t, os.WriteFile(path, []byte(head+start+documented+end+tail), 0o644))
	}
	assert.Equal(t, table.String(), documented, "run go test ./client/report -update")
}

func TestEveryRowIsARecordOfEveryColumn(t *testing.T) {
	records, err := csv.NewReader(strings.NewReader(writeCSV(t, clienttest.Rows(t)))).ReadAll()
	require.NoError(t, err)
	require.Len(t, records, 1+len(clienttest.Rows(t)))
	for _, r := range records {
		assert.Len(t, r, len(report.Columns()))
	}
}

// column gives one column of the CSV result by the rows' ids.
func column(t *testing.T, rows []*client.Row, name string) map[string]string {
	t.Helper()
	records, err := csv.NewReader(strings.NewReader(writeCSV(t, rows))).ReadAll()
	require.NoError(t, err)
	at := map[string]int{}
	for i, header := range records[0] {
		at[header] = i
	}
	require.Contains(t, at, name)
	values := map[string]string{}
	for _, r := range records[1:] {
		values[r[at["occurrenceID"]]] = r[at[name]]
	}
	return values
}

func TestOnlyAPrescribedRowHasAMethodADoseAndSteps(t *testing.T) {
	rows := clienttest.Rows(t)
	outcomes := column(t, rows, "outcome")
	for _, name := range []string{"method", "stems", "steps", "decision"} {
		for id, value := range column(t, rows, name) {
			assert.Equal(t, outcomes[id] == "prescribed", value != "", "%s of %s, which is %s", name, id, outcomes[id])
		}
	}
	assert.Equal(t, "hack_and_squirt", column(t, rows, "candidate_method")["m-6"])
	assert.Equal(t, "2032-07-15", column(t, rows, "treat_from")["m-6"])
	assert.Empty(t, column(t, rows, "treat_from")["m-5"], "a date beside an undetermined row reads as leave to treat")
}

func TestNoTextIsAFormula(t *testing.T) {
	record := func(id string) *client.Row {
		reader, err := inventory.NewCSV(strings.NewReader("occurrenceID,scientificName,locationID,place,form,decimalLatitude,decimalLongitude\n\"" + id + "\",Ailanthus altissima,s,us/velmora,tree,-43,-38\n"))
		require.NoError(t, err)
		return &client.Row{Record: clienttest.ReadAll(t, reader)[0], Outcome: treatmentv1.Outcome_OUTCOME_UNDETERMINED, Explanation: &treatmentv1.Explanation{
			Why: id, Remedies: []string{id, "second"}}}
	}
	for _, id := range []string{"=1+1", "+1", "-1", "@SUM(A1)", `=HYPERLINK(""http://a"")`} {
		rows := []*client.Row{record(id)}
		plain := strings.ReplaceAll(id, `""`, `"`)
		assert.Contains(t, column(t, rows, "occurrenceID"), "'"+plain)
		assert.Equal(t, "'"+id, column(t, rows, "why")["'"+plain])
		assert.Equal(t, "'"+id+" | second", column(t, rows, "remedies")["'"+plain])
		assert.Equal(t, "-38", column(t, rows, "decimalLongitude")["'"+plain], "a number is no formula")
	}
	assert.Contains(t, column(t, []*client.Row{record("a=1")}, "occurrenceID"), "a=1")
}

func TestGeoJSONReadsBackAsTheSameRows(t *testing.T) {
	rows := clienttest.Rows(t)
	var collection struct {
		Type     string
		Features []struct {
			Type       string
			ID         string
			Geometry   *struct{ Coordinates []float64 }
			Properties map[string]any
		}
	}
	require.NoError(t, json.Unmarshal(writeGeoJSON(t, rows), &collection))
	assert.Equal(t, "FeatureCollection", collection.Type)
	require.Len(t, collection.Features, len(rows))
	outcomes := column(t, rows, "outcome")
	for i, f := range collection.Features {
		assert.Equal(t, rows[i].Record.Stem.GetStemId(), f.ID)
		assert.InDelta(t, *rows[i].Record.Lon, f.Geometry.Coordinates[0], 0)
		id := strings.TrimPrefix(f.ID, "=")
		if id == f.ID {
			assert.Equal(t, outcomes[f.ID], f.Properties["outcome"])
		}
	}
	assert.IsType(t, []any{}, collection.Features[0].Properties["cautions"])
	assert.IsType(t, 1.0, collection.Features[0].Properties["mix_ml"])
	assert.NotContains(t, collection.Features[4].Properties, "mix_ml")
}

func TestAnEmptyResultIsAnEmptyCollection(t *testing.T) {
	var collection map[string]any
	require.NoError(t, json.Unmarshal(writeGeoJSON(t, nil), &collection))
	assert.Equal(t, []any{}, collection["features"])
}

func TestAFaultyGeometryIsNotPassedOn(t *testing.T) {
	reader, err := inventory.NewCSV(strings.NewReader("occurrenceID,scientificName,locationID,place,form,decimalLatitude,decimalLongitude\na,Ailanthus altissima,s,us/velmora,tree,95,-38\n"))
	require.NoError(t, err)
	record := clienttest.ReadAll(t, reader)[0]
	require.True(t, record.Rejected())
	out := writeGeoJSON(t, []*client.Row{{Record: record, Outcome: treatmentv1.Outcome_OUTCOME_REJECTED, Faults: record.Faults}})
	assert.Contains(t, string(out), `"geometry":null`)
}

func TestASummaryFitsTheTerminal(t *testing.T) {
	for _, line := range strings.Split(summarise(t, clienttest.Rows(t), overview(measure.US)), "\n") {
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 90, line)
	}
}

func TestASummaryOfManyReasonsStaysShort(t *testing.T) {
	base := clienttest.Rows(t)
	var rows []*client.Row
	for i := range 3000 {
		r := *base[4] // undetermined
		r.Explanation = proto.CloneOf(r.Explanation)
		r.Explanation.Remedies = []string{fmt.Sprintf("activate a rule set for place %d", i)}
		rows = append(rows, &r)
	}
	got := summarise(t, rows, overview(measure.US))
	assert.Less(t, strings.Count(got, "\n"), 120)
	assert.Contains(t, got, "and 486 reasons more")
}

func TestConditionsAreCountedByRow(t *testing.T) {
	base := clienttest.Rows(t)[0]
	var rows []*client.Row
	for range 5000 {
		r := *base
		r.Explanation = proto.CloneOf(base.Explanation) // more than wait to be counted together
		rows = append(rows, &r)
	}
	got := summarise(t, rows, overview(measure.US))
	assert.Contains(t, got, "us-federal/entry for hack and squirt (5000 rows); invented code 1.2 (2031)")
}

// What nobody can measure is said to be so, and the figures are left to the tables.
func TestLoadsThatCannotBeMeasured(t *testing.T) {
	for want, load := range map[string]*treatmentv1.Load{
		"1 gal (3.78 L) mix = 12.75 fl oz or 377 mL product + 0.9 gal (3.4 L) oil":                                            {MixGal: 1, ProductMl: 377, ProductFlOz: 12.75, CarrierGal: 0.9, CarrierL: 3.407},
		"6.76 fl oz (200 mL) mix = 1.7 mL product + 6.67 fl oz (197 mL) oil + 1 mL adjuvant":                                  {MixGal: 0.052834411, ProductMl: 1.7, ProductFlOz: 0.046875, CarrierGal: 0.0521, CarrierL: 0.1973, AdjuvantMl: 1},
		"2 mL mix = 1 mL product + 1 mL oil + under 0.5 mL dye; too little to measure: mix a larger load, of the same shares": {MixGal: 0.00052834411, ProductMl: 1, ProductFlOz: 0.03125, CarrierGal: 0.000264, CarrierL: 0.001, DyeMl: 0.1},
		"2 mL mix = under 0.5 mL product + 1.9 mL oil; too little to measure: mix a larger load, of the same shares":          {MixGal: 0.00052834411, ProductMl: 0.1, CarrierGal: 0.0005, CarrierL: 0.0019},
		"0.6 mL mix = under 0.5 mL product + 0.6 mL oil; too little to measure: mix a larger load, of the same shares":        {MixGal: 0.00015850324, CarrierGal: 0.00015850324, CarrierL: 0.0006},
	} {
		assert.Equal(t, want, report.Load(load, "oil"))
	}
}
