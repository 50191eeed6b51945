package report_test

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/report"
)

// byLake gives a row distances to a lake.
func byLake(t *testing.T, stated, computed *commonv1.WaterDistance) *client.Row {
	t.Helper()
	row := *clienttest.Rows(t)[0]
	record := *row.Record
	record.Stem = proto.Clone(record.Stem).(*treatmentv1.Stem)
	record.Stem.WaterDistances, record.Stem.OtherWaterBeyondM = nil, nil
	row.Record = &record
	if stated != nil {
		record.Stem.WaterDistances = []*commonv1.WaterDistance{stated}
	}
	if computed != nil {
		row.Computed = []*commonv1.WaterDistance{computed}
	}
	return &row
}

func lake(metres float64, from commonv1.DistanceOrigin, atLeast bool) *commonv1.WaterDistance {
	return &commonv1.WaterDistance{WaterClass: commonv1.WaterClass_WATER_CLASS_LAKE, DistanceM: metres, Origin: from, AtLeast: atLeast}
}

// Both distances are shown, and which decides.
func TestStatedAndComputedDistances(t *testing.T) {
	const edge, bank = commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE, commonv1.DistanceOrigin_DISTANCE_ORIGIN_BANK_TOP
	for _, c := range []struct {
		name             string
		stated, computed *commonv1.WaterDistance
		want             string
	}{
		{"nothing computed", lake(10, edge, false), nil, ""},
		{"computed alone", nil, lake(9.5, edge, false), "lake: computed 9.5 m from the water edge"},
		{"none within reach", nil, lake(30.48, bank, true), "lake: computed at least 30.48 m from the bank top"},
		{"stated is smaller", lake(9, edge, false), lake(9.5, edge, false), "lake: stated 9 m from the water edge, computed 9.5 m from the water edge; the stated one decides"},
		{"computed is smaller", lake(10, edge, false), lake(9.5, edge, false), "lake: stated 10 m from the water edge, computed 9.5 m from the water edge; the computed one decides"},
		{"both the same", lake(10, edge, false), lake(10, edge, false), "lake: stated 10 m from the water edge, computed 10 m from the water edge; they agree"},
		{"a distance beside a bound", lake(10, edge, true), lake(20, edge, false), "lake: stated at least 10 m from the water edge, computed 20 m from the water edge; the computed one decides"},
		{"a bound beside a distance", lake(10, edge, false), lake(20, edge, true), "lake: stated 10 m from the water edge, computed at least 20 m from the water edge; the stated one decides"},
		{"two bounds", lake(10, edge, true), lake(20, edge, true), "lake: stated at least 10 m from the water edge, computed at least 20 m from the water edge; the computed one decides"},
		{"other origins", lake(10, bank, false), lake(20, edge, false), "lake: stated 10 m from the bank top, computed 20 m from the water edge; each decides from where it starts"},
		{"from nowhere", lake(10, 0, false), lake(20, edge, false), "lake: stated 10 m, computed 20 m from the water edge; each decides from where it starts"},
	} {
		t.Run(c.name, func(t *testing.T) {
			row := byLake(t, c.stated, c.computed)
			records, err := csv.NewReader(strings.NewReader(writeCSV(t, []*client.Row{row}))).ReadAll()
			require.NoError(t, err)
			for i, name := range records[0] {
				if name == "water_distances" {
					assert.Equal(t, c.want, records[1][i])
				}
			}
			assert.Contains(t, records[0], "water_distances")
		})
	}
}

func TestTheReasoningShowsDistances(t *testing.T) {
	row := byLake(t, lake(10, 0, false), lake(9.5, 0, false))
	row.Record.Stem.OtherWaterBeyondM = new(152.4)
	var out bytes.Buffer
	reasoning := report.Reasoning{Row: row, Date: clienttest.Date, Units: measure.US}
	require.NoError(t, reasoning.Write(&out))
	text := strings.Join(strings.Fields(out.String()), " ")
	assert.Contains(t, text, "Lake: stated 32.8 ft, computed 31.1 ft; the computed one decides", "rounded down: 9.5 m are 31.168 ft")
	assert.Contains(t, text, "Every other class: stated at least 500.0 ft")
}

func TestTheSummaryNamesTheLayers(t *testing.T) {
	o := overview(measure.US)
	o.Result.Summary.WaterLayers = []*commonv1.WaterLayerRef{{Name: "creek", Digest: strings.Repeat("ab", 32)}}
	assert.Contains(t, summarise(t, clienttest.Rows(t), o), "  water       creek, sha256 abababababab\n")
}
