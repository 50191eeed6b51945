package fieldsheet_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
	"example.org/rootward/client/measure"
)

// Water that is near a stem stands beside it, whether it is treated or not; water of
// which no more is known than that it is not near does not.
func TestNearWaterStandsBesideTheStem(t *testing.T) {
	var rows []*client.Row
	for _, r := range clienttest.Rows(t) {
		row := *r
		row.Computed = []*commonv1.WaterDistance{
			{WaterClass: commonv1.WaterClass_WATER_CLASS_DITCH, DistanceM: 9.5, Origin: commonv1.DistanceOrigin_DISTANCE_ORIGIN_BANK_TOP},
			{WaterClass: commonv1.WaterClass_WATER_CLASS_WELL, DistanceM: 91, AtLeast: true},
		}
		rows = append(rows, &row)
	}
	sheet := write(t, rows, heading(measure.US))
	assert.Contains(t, sheet, "<br/>Water: ditch: computed 31.1 ft from the bank top")
	assert.Contains(t, sheet, "; water: ditch: computed 31.1 ft from the bank top</small></li>")
	assert.NotContains(t, sheet, "91.0", "nothing but a bound is known of the well")
	assert.NotContains(t, strings.ToLower(sheet), "water: well")
}
