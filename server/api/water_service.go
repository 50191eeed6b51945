package api

import (
	"cmp"
	"context"
	"slices"

	"google.golang.org/grpc/codes"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	waterv1 "example.org/rootward/proto/gen/rootward/water/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/water"
)

// Water serves WaterService. It keeps nothing between calls.
type Water struct {
	waterv1.UnimplementedWaterServiceServer
	current CurrentWater
}

// NewWater makes the service.
func NewWater(current CurrentWater) *Water { return &Water{current: current} }

// ListLayers lists the loaded layers.
func (s *Water) ListLayers(context.Context, *waterv1.ListLayersRequest) (*waterv1.ListLayersResponse, error) {
	layers := s.current()
	r := &waterv1.ListLayersResponse{IndexBytes: layers.IndexBytes(), LoadMs: layers.LoadTime().Milliseconds()}
	for _, l := range layers.Describe() {
		r.Layers = append(r.Layers, writeLayer(&l))
	}
	return r, nil
}

func writeLayer(l *water.Layer) *waterv1.Layer {
	p := &waterv1.Layer{Ref: writeLayerRef(l), Features: int64(l.Features), Edges: int64(l.Edges)}
	for _, c := range l.Coverages {
		p.Coverages = append(p.Coverages, &waterv1.Coverage{
			WaterClass: rulewire.Encode[commonv1.WaterClass](c.Class), Origin: rulewire.Encode[commonv1.DistanceOrigin](c.Origin),
			Features: int64(c.Features), Area: writeRings(c.Area),
		})
	}
	return p
}

func writeLayerRef(l *water.Layer) *commonv1.WaterLayerRef {
	return &commonv1.WaterLayerRef{Name: l.Name, Digest: l.Digest}
}

// writeLayerRefs names the layers, and none where nothing was computed from them.
func (m *measuring) writeLayerRefs() []*commonv1.WaterLayerRef {
	if !m.used {
		return nil
	}
	var refs []*commonv1.WaterLayerRef
	for _, l := range m.layers.Describe() {
		refs = append(refs, writeLayerRef(&l))
	}
	slices.SortFunc(refs, func(a, b *commonv1.WaterLayerRef) int {
		return cmp.Or(cmp.Compare(a.GetName(), b.GetName()), cmp.Compare(a.GetDigest(), b.GetDigest()))
	})
	return refs
}

func writeRings(polygons [][]water.Ring) []*treatmentv1.Ring {
	var list []*treatmentv1.Ring
	for _, rings := range polygons {
		for i, r := range rings {
			p := &treatmentv1.Ring{Hole: i > 0}
			for _, at := range r {
				p.LatitudeDeg, p.LongitudeDeg = append(p.LatitudeDeg, at.Latitude), append(p.LongitudeDeg, at.Longitude)
			}
			list = append(list, p)
		}
	}
	return list
}

// within is how far one looks for water.
var within = metres("within_m").upTo(int64(10_000 * quantity.Metre))

// MeasureDistance computes the distances from one position or patch.
func (s *Water) MeasureDistance(_ context.Context, q *waterv1.MeasureDistanceRequest) (*waterv1.MeasureDistanceResponse, error) {
	layers := s.current()
	if layers == nil {
		return nil, fail(codes.FailedPrecondition, NoWater, nil, "the server has no water layers: start it with --water DIR")
	}
	var f faults
	spot := f.spot(q)
	reach, _ := f.real("", within, &q.WithinM)
	if err := f.err(); err != nil {
		return nil, err
	}
	classes := rules.AnyOf(rules.Words[rules.WaterClass]()...)
	found := layers.Finder(classes, quantity.Micrometres(reach)).Measure(spot)
	var all rules.Waters
	all.Compute(&found.Water, &found.Seen)
	r := &waterv1.MeasureDistanceResponse{Distances: writeComputed(&all)}
	for _, class := range classes.Values() {
		if _, known := all.Computed(class); !known {
			r.Unknown = append(r.Unknown, rulewire.Encode[commonv1.WaterClass](class))
		}
	}
	return r, nil
}

// spot reads where is measured.
func (f *faults) spot(q *waterv1.MeasureDistanceRequest) *water.Spot {
	spot := &water.Spot{Outline: f.parts("outline", q.GetOutline())}
	spot.Latitude, _ = f.between("latitude_deg", &q.LatitudeDeg, -90, 90, "degrees")
	spot.Longitude, _ = f.between("longitude_deg", &q.LongitudeDeg, -180, 180, "degrees")
	n, _ := f.real("", uncertainty, &q.CoordinateUncertaintyM)
	spot.Uncertainty = quantity.Micrometres(n)
	return spot
}
