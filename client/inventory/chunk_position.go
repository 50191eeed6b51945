package inventory

import (
	"math"

	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
)

// notADegree stands for a position that is not known, in the columns of a chunk.
var notADegree = int64(math.Float64bits(math.NaN()))

// metresUp is for what is the stricter the larger it is.
var metresUp = unit{"m", func(v float64) int64 { return saturate(nextUp(v * float64(quantity.Metre))) }}

// stagePosition puts a record's position into its row.
func (c *Chunker) stagePosition(r *Record) {
	s := r.Stem
	if s.LatitudeDeg == nil && len(s.Outline) == 0 {
		return
	}
	c.staged.state(colLatitude, degreeBits(s.LatitudeDeg))
	c.staged.state(colLongitude, degreeBits(s.LongitudeDeg))
	uncertainty := s.CoordinateUncertaintyM
	if uncertainty == nil {
		uncertainty = r.WithRounding(c.Uncertainty)
	}
	c.staged.state(colUncertainty, whole(uncertainty, metresUp.convert))
}

func degreeBits(v *float64) int64 {
	if v == nil {
		return notADegree
	}
	return int64(math.Float64bits(*v))
}

// addOutline keeps the outline of the row that is being added.
func (c *Chunker) addOutline(rings []*treatmentv1.Ring) {
	if len(rings) > 0 {
		c.outlines = append(c.outlines, &treatmentv1.RowOutline{Index: int32(len(c.stems)), Rings: rings})
	}
}

// outlineCost is what an outline adds to the encoded size.
func outlineCost(rings []*treatmentv1.Ring) int {
	if len(rings) == 0 {
		return 0
	}
	const framing = 2 + 5 // tag and length
	return framing + proto.Size(&treatmentv1.RowOutline{Index: chunkRows, Rings: rings})
}
