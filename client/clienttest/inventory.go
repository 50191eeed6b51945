package clienttest

import (
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/civil"

	"example.org/rootward/client"
	"example.org/rootward/client/inventory"
)

// Date is the day that the fixture's answers are for.
var Date = civil.Of(2031, 8, 10)

// Inventory is a CSV inventory of two sites. It holds every outcome, names that a
// spreadsheet would run and names that a browser would.
const Inventory = `occurrenceID,scientificName,locationID,place,site_area_ac,decimalLatitude,decimalLongitude,form,dbh_in,individualCount,occurrenceRemarks
m-1,Ailanthus altissima,mill-meadow,us/velmora,2,43.00410,-38.01010,tree,10,1,
m-2,Ailanthus altissima,mill-meadow,us/velmora,2,43.00421,-38.01032,sapling,4,12,
m-3,Ailanthus altissima,mill-meadow,us/velmora,2,43.00437,-38.00985,seedling,0.4,3,
m-4,Ailanthus altissima,mill-meadow,us/velmora,2,43.00402,-38.00951,root_sucker,0.8,40,two passes
m-5,Ailanthus altissima,mill-meadow,us/velmora,2,43.00444,-38.01041,tree,,1,no diameter
m-6,Ailanthus altissima,mill-meadow,us/velmora,2,43.00428,-38.00999,tree,14,1,
"=SUM(A1:A9)",Ailanthus altissima,mill-meadow,us/velmora,2,43.00418,-38.01003,tree,12,1,a formula
"<b onclick=""x()"">b-2</b>",Rhamnus cathartica,"bank & ""brook""",us/velmora/ossel-creek,1,43.01210,-38.02010,tree,5,1,markup
b-3,Rhamnus cathartica,"bank & ""brook""",us/velmora/ossel-creek,1,43.01222,-38.02031,tree,5,1,
b-4,Rhamnus cathartica,"bank & ""brook""",us/velmora/ossel-creek,1,43.01231,-38.02001,tree,abc,1,not a number
b-5,Rhamnus cathartica,"bank & ""brook""",us/velmora/ossel-creek,1,43.01199,-38.02045,tree,5,1,unknown to the server
`

// Records reads the fixture's inventory.
func Records(t testing.TB) []*inventory.Record {
	t.Helper()
	reader, err := inventory.NewCSV(strings.NewReader(Inventory))
	require.NoError(t, err)
	return ReadAll(t, reader)
}

// ReadAll reads an inventory to its end.
func ReadAll(t testing.TB, reader *inventory.Reader) []*inventory.Record {
	t.Helper()
	var records []*inventory.Record
	for {
		record, err := reader.Next()
		if errors.Is(err, io.EOF) {
			return records
		}
		require.NoError(t, err)
		records = append(records, record)
	}
}

// Rows gives what became of each row of the fixture's inventory.
func Rows(t testing.TB) []*client.Row {
	t.Helper()
	var rows []*client.Row
	for _, record := range Records(t) {
		rows = append(rows, row(record))
	}
	return rows
}

func row(record *inventory.Record) *client.Row {
	if record.Rejected() {
		return &client.Row{Record: record, Outcome: treatmentv1.Outcome_OUTCOME_REJECTED, Faults: record.Faults}
	}
	a := AnswerFor(record.Stem.GetStemId())
	r := &client.Row{Record: record, Outcome: a.Outcome, Explanation: a.Explanation, Dose: a.Dose, Second: a.Second}
	for _, f := range a.Faults {
		r.Faults = append(r.Faults, inventory.Fault{Line: record.Line, Column: f.GetField(), Problem: f.GetProblem()})
	}
	return r
}
