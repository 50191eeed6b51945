package report_test

import (
	"bytes"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
	"example.org/rootward/client/report"
	"example.org/rootward/testdata/many"
)

// answers is a server that knows every kind of answer, by the last digit of the id.
var answers = &clienttest.Server{Answer: func(_ *treatmentv1.StreamBegin, id string) clienttest.Answer {
	kinds := []string{"m-1", "m-2", "m-3", "m-4", "m-5", "m-6", "b-3", "b-5", "m-2", "m-1"}
	a := clienttest.AnswerFor(kinds[int(id[len(id)-1])%len(kinds)])
	if a.Dose.GetMixMl() > 0 {
		drawn := float64(int(id[len(id)-2])*997+len(id)) / 7
		a.Dose = &treatmentv1.Dose{Stems: 3, Cuts: int64(drawn), CutMl: drawn / 3, MixMl: drawn, ProductMl: drawn / 9, AeG: drawn / 1e4, RateLbAePerAc: &drawn}
	}
	return a
}}

// bothWays writes a file's rows many at a time, and one by one.
type bothWays struct {
	quick, slow   *report.CSV
	many, singles report.Tally
	whole         []*client.Row
}

func (b *bothWays) Row(*client.Row) error { panic("rows come many at a time") }

func (b *bothWays) Rows(a *client.Answered) error {
	if err := b.quick.Rows(a); err != nil {
		return err
	}
	for i := range a.Len() {
		row := a.Row(i)
		b.whole = append(b.whole, row)
		if err := b.slow.Row(row); err != nil {
			return err
		}
		if err := b.singles.Row(row); err != nil {
			return err
		}
	}
	return b.many.Rows(a)
}

// writeBothWays gives the rows of an inventory that answers has answered.
func writeBothWays(t *testing.T, inventory []byte, columns []report.Column) (quick, slow string, result *client.Result, b *bothWays) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "inventory.csv")
	require.NoError(t, os.WriteFile(path, inventory, 0o600))
	var quickly, slowly bytes.Buffer
	b = &bothWays{}
	result, err := clienttest.Connect(t, answers.Register).Prescribe(t.Context(), path, client.Options{Date: clienttest.Date}, func() (client.Sink, error) {
		var err error
		if b.quick, err = report.NewCSV(&quickly, columns); err == nil {
			b.slow, err = report.NewCSV(&slowly, columns)
		}
		return b, err
	})
	require.NoError(t, err)
	require.NoError(t, b.quick.Flush())
	require.NoError(t, b.slow.Flush())
	return quickly.String(), slowly.String(), result, b
}

func TestManyRowsAreWrittenAsSingleRows(t *testing.T) {
	var drawn bytes.Buffer
	require.NoError(t, many.WriteCSV(&drawn, 5, 3_000))
	for name, text := range map[string][]byte{"drawn": drawn.Bytes(), "odd": []byte(clienttest.Inventory)} {
		t.Run(name, func(t *testing.T) {
			quick, slow, result, b := writeBothWays(t, text, report.Columns())
			require.Equal(t, slow, quick)
			var one, many bytes.Buffer
			overview := report.Overview{Date: clienttest.Date, Result: result}
			require.NoError(t, b.singles.Summary(&one, &overview))
			require.NoError(t, b.many.Summary(&many, &overview))
			assert.Equal(t, one.String(), many.String())
			requireStandard(t, quick)
		})
	}
}

// requireStandard holds a table to encoding/csv and its numbers to strconv.
func requireStandard(t require.TestingT, text string) {
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	var again bytes.Buffer
	w := csv.NewWriter(&again)
	require.NoError(t, w.WriteAll(records))
	require.Equal(t, again.String(), text)
	for _, record := range records[1:] {
		for i, cell := range record {
			name := records[0][i]
			if v, err := strconv.ParseFloat(cell, 64); err == nil && (strings.HasSuffix(name, "_ml") || strings.HasSuffix(name, "_g") || strings.HasSuffix(name, "_ac") || strings.HasPrefix(name, "decimal") || name == "diameter_cm") {
				require.Equal(t, strconv.FormatFloat(v, 'f', -1, 64), cell, name)
			}
		}
	}
}

func TestNumbersAndTextsAreThoseOfTheStandardLibrary(t *testing.T) {
	odd := clienttest.Records(t)[0]
	rapid.Check(t, func(t *rapid.T) {
		record := *odd
		stem := &treatmentv1.Stem{
			StemId:         rapid.OneOf(rapid.String(), rapid.StringMatching(`[ =+@\\."',\n\r a-z-]{0,8}`)).Draw(t, "id"),
			ScientificName: rapid.String().Draw(t, "species"),
			DiameterCm:     new(rapid.Float64().Draw(t, "diameter")),
		}
		record.Stem, record.Lat = stem, new(rapid.Float64Range(-90, 90).Draw(t, "latitude"))
		record.Lon = new(float64(rapid.IntRange(-180_000_000, 180_000_000).Draw(t, "longitude")) / 1e6)
		var out bytes.Buffer
		table, err := report.NewCSV(&out, report.Columns())
		require.NoError(t, err)
		require.NoError(t, table.Row(&client.Row{Record: &record, Outcome: treatmentv1.Outcome_OUTCOME_REJECTED}))
		require.NoError(t, table.Flush())
		// A reader takes \r\n between quotes for \n (encoding/csv), so that such a text
		// cannot be held to what is read back.
		if !strings.Contains(out.String(), "\r\n") {
			requireStandard(t, out.String())
		}
	})
}

// A compact table with its explanations says what the whole table does.
func TestCompactTablesJoinToTheWholeOne(t *testing.T) {
	var drawn, rows, explanations bytes.Buffer
	require.NoError(t, many.WriteCSV(&drawn, 5, 2_000))
	whole, _, _, b := writeBothWays(t, drawn.Bytes(), report.Columns())
	table, err := report.NewCompactCSV(&rows, &explanations)
	require.NoError(t, err)
	for _, row := range b.whole {
		require.NoError(t, table.Row(row))
	}
	require.NoError(t, table.Flush())
	shared := map[string]map[string]string{}
	for _, e := range recordsOf(t, explanations.String()) {
		shared[e["explanation"]] = e
	}
	want := recordsOf(t, whole)
	for i, got := range recordsOf(t, rows.String()) {
		for name, value := range shared[got["explanation"]] {
			if own, there := got[name]; there {
				require.Equal(t, value, own, name)
			}
			got[name] = value
		}
		delete(got, "explanation")
		require.Equal(t, want[i], got)
	}
	assert.Less(t, len(shared), 20)
	assert.Less(t, rows.Len()*3, len(whole))
}

func recordsOf(t *testing.T, text string) []map[string]string {
	t.Helper()
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	var list []map[string]string
	for _, record := range records[1:] {
		one := map[string]string{}
		for i, cell := range record {
			one[records[0][i]] = cell
		}
		list = append(list, one)
	}
	return list
}

// A table of chosen columns says in them what the whole table does, many rows at a time or
// one by one, and so does Parquet.
func TestChosenColumnsSayWhatTheWholeTableDoes(t *testing.T) {
	var drawn bytes.Buffer
	require.NoError(t, many.WriteCSV(&drawn, 5, 300))
	text := append(drawn.Bytes(), []byte(clienttest.Inventory[strings.Index(clienttest.Inventory, "\n")+1:])...)
	whole, _, _, b := writeBothWays(t, text, report.Columns())
	want := recordsOf(t, whole)
	var names []string
	for _, c := range report.Columns() {
		names = append(names, c.Name)
	}
	rapid.Check(t, func(d *rapid.T) {
		chosen := rapid.SliceOfDistinct(rapid.SampledFrom(names), func(name string) string { return name }).Draw(d, "columns")
		if !slices.Contains(chosen, "outcome") {
			_, err := report.Chosen(chosen)
			require.ErrorContains(d, err, "the column outcome is not among the chosen ones")
			chosen = append(chosen, "outcome")
		}
		columns, err := report.Chosen(chosen)
		require.NoError(d, err)
		quick, slow, _, _ := writeBothWays(t, text, columns)
		require.Equal(d, slow, quick)
		var out bytes.Buffer
		table := report.NewParquet(&out, columns)
		for _, row := range b.whole {
			require.NoError(d, table.Row(row))
		}
		require.NoError(d, table.Close())
		file, err := parquet.OpenFile(bytes.NewReader(out.Bytes()), int64(out.Len()))
		require.NoError(d, err)
		header, err := csv.NewReader(strings.NewReader(quick)).Read()
		require.NoError(d, err)
		require.ElementsMatch(d, chosen, header)
		got, inParquet := recordsOf(t, quick), parquetRecords(t, file, header)
		require.Len(d, got, len(want))
		for i := range want {
			for _, name := range header {
				require.Equal(d, want[i][name], got[i][name], "row %d, %s", i, name)
				require.Equal(d, want[i][name], inParquet[i][name], "Parquet, row %d, %s", i, name)
			}
		}
	})
}

func TestColumnsThatCannotBeChosen(t *testing.T) {
	for names, want := range map[string]string{
		"outcome,methot":             `there is no column "methot"; is it method?`,
		"outcome,zzzzzzzzzzzzz":      "docs/result-format.md lists them",
		"outcome,method,method":      "column method is named twice",
		"occurrenceID,method,mix_ml": "only a row that is prescribed may be treated",
		"":                           `there is no column ""`,
	} {
		_, err := report.Chosen(strings.Split(names, ","))
		assert.ErrorContains(t, err, want, names)
	}
}

// What is read back from Parquet is what the table of texts says.
func TestParquetHoldsWhatCSVDoes(t *testing.T) {
	var drawn, out bytes.Buffer
	require.NoError(t, many.WriteCSV(&drawn, 5, 1_000))
	whole, _, _, b := writeBothWays(t, drawn.Bytes(), report.Columns())
	table := report.NewParquet(&out, report.Columns())
	for _, row := range b.whole {
		require.NoError(t, table.Row(row))
	}
	require.NoError(t, table.Close())
	file, err := parquet.OpenFile(bytes.NewReader(out.Bytes()), int64(out.Len()))
	require.NoError(t, err)
	names := []string{}
	for _, c := range file.Root().Columns() {
		names = append(names, c.Name())
	}
	header, err := csv.NewReader(strings.NewReader(whole)).Read()
	require.NoError(t, err)
	require.Equal(t, header, names)
	want := recordsOf(t, whole)
	require.Equal(t, int64(len(want)), file.NumRows())
	for i, got := range parquetRecords(t, file, names) {
		for name, cell := range want[i] {
			require.Equal(t, cell, got[name], "row %d, %s", i, name)
		}
	}
}

// parquetRecords writes the rows of a file as the table of texts has them.
func parquetRecords(t *testing.T, file *parquet.File, names []string) []map[string]string {
	t.Helper()
	var list []map[string]string
	for _, group := range file.RowGroups() {
		rows := group.Rows()
		buffer := make([]parquet.Row, 10)
		for {
			n, err := rows.ReadRows(buffer)
			for _, row := range buffer[:n] {
				one := map[string]string{}
				for _, v := range row {
					name := names[v.Column()]
					switch {
					case v.IsNull():
						one[name] = ""
					case v.Kind() == parquet.Double:
						one[name] = strconv.FormatFloat(v.Double(), 'f', -1, 64)
					case v.RepetitionLevel() > 0:
						one[name] += " | " + v.String()
					default:
						one[name] = v.String()
					}
				}
				list = append(list, one)
			}
			if err == io.EOF {
				break
			}
			require.NoError(t, err)
		}
		require.NoError(t, rows.Close())
	}
	return list
}

func BenchmarkRows(b *testing.B) {
	const rows = 20_000
	path := filepath.Join(b.TempDir(), "inventory.csv")
	var drawn bytes.Buffer
	require.NoError(b, many.WriteCSV(&drawn, 5, rows))
	require.NoError(b, os.WriteFile(path, drawn.Bytes(), 0o600))
	c := clienttest.Connect(b, answers.Register)
	for name, make := range map[string]func(w *counter) (client.Sink, error){
		"csv":     func(w *counter) (client.Sink, error) { return report.NewCSV(w, report.Columns()) },
		"compact": func(w *counter) (client.Sink, error) { return report.NewCompactCSV(w, w) },
		"parquet": func(w *counter) (client.Sink, error) { return report.NewParquet(w, report.Columns()), nil },
	} {
		b.Run(name, func(b *testing.B) {
			written := &counter{}
			timed := &timedSink{}
			for b.Loop() {
				_, err := c.Prescribe(b.Context(), path, client.Options{Date: clienttest.Date}, func() (client.Sink, error) {
					var err error
					timed.sink, err = make(written)
					return timed, err
				})
				require.NoError(b, err)
				timed.close()
			}
			b.ReportMetric(float64(timed.spent.Nanoseconds())/float64(b.N*rows), "ns/row")
			b.ReportMetric(float64(written.n)/1e6/timed.spent.Seconds(), "MB/s")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// counter counts what is written to it.
type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

// timedSink is the time that a sink takes, apart from reading and asking.
type timedSink struct {
	sink  client.Sink
	spent time.Duration
}

func (s *timedSink) Row(*client.Row) error { panic("rows come many at a time") }

func (s *timedSink) Rows(a *client.Answered) error {
	began := time.Now()
	defer func() { s.spent += time.Since(began) }()
	if many, ok := s.sink.(client.AnsweredSink); ok {
		return many.Rows(a)
	}
	for i := range a.Len() {
		if err := s.sink.Row(a.Row(i)); err != nil {
			return err
		}
	}
	return nil
}

func (s *timedSink) close() {
	began := time.Now()
	switch sink := s.sink.(type) {
	case *report.CSV:
		sink.Flush()
	case *report.Parquet:
		sink.Close()
	}
	s.spent += time.Since(began)
}
