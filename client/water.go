package client

import (
	"fmt"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
)

// checkComputed makes sure that each column of computed distances has a value a row.
func checkComputed(list []*treatmentv1.WaterColumn, rows int) error {
	for _, c := range list {
		if len(c.GetDistanceUm()) != rows || len(c.GetOrigin()) != rows || len(c.GetAtLeast()) != rows {
			return fmt.Errorf("the server's answer has %d computed distances to water of class %s for %d rows", len(c.GetDistanceUm()), c.GetWaterClass(), rows)
		}
	}
	return nil
}

// computedAt gives the computed distances of a row, by class.
func computedAt(list []*treatmentv1.WaterColumn, i int) []*commonv1.WaterDistance {
	var distances []*commonv1.WaterDistance
	for _, c := range list {
		if um := c.GetDistanceUm()[i]; um >= 0 {
			distances = append(distances, &commonv1.WaterDistance{
				WaterClass: c.GetWaterClass(), DistanceM: quantity.Micrometres(um).Metres(), Origin: commonv1.DistanceOrigin(c.GetOrigin()[i]), AtLeast: c.GetAtLeast()[i],
			})
		}
	}
	return distances
}
