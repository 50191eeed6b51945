package client_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
)

// lakeColumn says of every row but the first how far a lake is: so many metres as its
// index.
func lakeColumn(rows int) *treatmentv1.WaterColumn {
	c := &treatmentv1.WaterColumn{WaterClass: commonv1.WaterClass_WATER_CLASS_LAKE}
	for i := range rows {
		c.DistanceUm = append(c.DistanceUm, int64(i)*1_000_000-1)
		c.Origin = append(c.Origin, byte(commonv1.DistanceOrigin_DISTANCE_ORIGIN_BANK_TOP))
		c.AtLeast = append(c.AtLeast, i%2 == 0)
	}
	c.DistanceUm[0] = -1
	return c
}

func TestComputedDistancesReachTheirRows(t *testing.T) {
	rows, _, err := prescribe(t, &clienttest.Server{Chunk: func(c *treatmentv1.PrescriptionChunk) error {
		c.ComputedWater = []*treatmentv1.WaterColumn{lakeColumn(len(c.Outcome))}
		return nil
	}}, many(t, 9), client.Options{})
	require.NoError(t, err)
	assert.Empty(t, rows[0].Computed)
	require.Len(t, rows[3].Computed, 1)
	d := rows[3].Computed[0]
	assert.Equal(t, commonv1.WaterClass_WATER_CLASS_LAKE, d.WaterClass)
	assert.InDelta(t, 2.999999, d.DistanceM, 1e-9)
	assert.Equal(t, commonv1.DistanceOrigin_DISTANCE_ORIGIN_BANK_TOP, d.Origin)
	assert.False(t, d.AtLeast)
	assert.True(t, rows[4].Computed[0].AtLeast)
}

func TestAShortColumnOfComputedDistancesIsAnError(t *testing.T) {
	for name, spoil := range map[string]func(*treatmentv1.WaterColumn){
		"distances": func(c *treatmentv1.WaterColumn) { c.DistanceUm = c.DistanceUm[1:] },
		"origins":   func(c *treatmentv1.WaterColumn) { c.Origin = nil },
		"bounds":    func(c *treatmentv1.WaterColumn) { c.AtLeast = append(c.AtLeast, true) },
	} {
		_, _, err := prescribe(t, &clienttest.Server{Chunk: func(c *treatmentv1.PrescriptionChunk) error {
			c.ComputedWater = []*treatmentv1.WaterColumn{lakeColumn(len(c.Outcome))}
			spoil(c.ComputedWater[0])
			return nil
		}}, many(t, 9), client.Options{})
		assert.ErrorContains(t, err, "computed distances", name)
	}
}

func TestTheSettingOfUncertaintyIsSent(t *testing.T) {
	var sent *treatmentv1.StreamBegin
	server := &clienttest.Server{Begin: func(b *treatmentv1.StreamBegin) error { sent = b; return nil }}
	_, _, err := prescribe(t, server, many(t, 1), client.Options{Settings: &treatmentv1.Settings{CoordinateUncertaintyM: new(7.0)}})
	require.NoError(t, err)
	assert.Equal(t, 7.0, sent.GetSettings().GetCoordinateUncertaintyM())
}
