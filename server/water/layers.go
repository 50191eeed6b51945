package water

import (
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Layers is the water that a server knows. It never changes; several goroutines may
// use it. A nil one knows no water at all.
type Layers struct {
	index
	described []Layer
	bytes     int64
	took      time.Duration
}

// Describe lists the layers by name.
func (l *Layers) Describe() []Layer {
	if l == nil {
		return nil
	}
	return slices.Clone(l.described)
}

// IndexBytes is the memory that all indexes take: the growth of the heap between two
// collections of garbage while they were built, so what else the process did in that
// time is in it.
func (l *Layers) IndexBytes() int64 {
	if l == nil {
		return 0
	}
	return l.bytes
}

// LoadTime is how long reading and indexing took.
func (l *Layers) LoadTime() time.Duration {
	if l == nil {
		return 0
	}
	return l.took
}

// Layer describes one file of water.
type Layer struct {
	Name      string // the file's name without folder and ending
	Digest    string // SHA-256 of the file, lower-case hexadecimal
	Features  int    // of water; what states a coverage is not one
	Edges     int    // segments and single points
	Coverages []Coverage
}

// Coverage says for one class of water where a layer shows all there is.
type Coverage struct {
	Class    rules.WaterClass
	Origin   rules.DistanceOrigin // what the layer's lines are, and so where distances start
	Features int
	Area     [][]Ring // polygons within which none is missing: the edge, then the holes; empty: not stated
}

// Point is a position in degrees of WGS 84.
type Point struct{ Latitude, Longitude float64 }

// Ring is a closed line; the last point need not be the first.
type Ring []Point

// Spot is what a distance is measured from.
type Spot struct {
	Point
	// Uncertainty is how far the true position may lie from the stated one.
	Uncertainty quantity.Micrometres
	// Outline is the parts of a patch, from whose nearest point is measured; empty for
	// a stem. Each is its edge, and then its holes; what lies in one of them is inside,
	// however they overlap. Nothing is known of a patch with more than 10,000 positions,
	// or an edge of more than 20 km.
	Outline [][]Ring
}

// Measured is what is known of the water round a spot.
type Measured struct {
	// Water is the distances by class, none longer than the true one. A class that
	// none is within reach of is AtLeast the reach, or as much of it as is covered. A
	// class of which nothing is known there is absent.
	Water rules.Waters
	// Seen is the distances to the nearest water that is shown, of the classes for
	// which Water does not state it: no coverage vouches that there is none nearer. It
	// may forbid, and shorten what somebody else states, but never allow.
	Seen rules.Waters
	// LakeArea is that of the only lake within reach, zero where there is none, or
	// more than one, or its area is not stated and cannot be told: it has an uncertainty,
	// its rings cross or touch, or it may have been cut at the edge of a layer's
	// coverage, or from another lake.
	LakeArea quantity.SquareMillimetres
}
