package inventory

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// metresPerDegree is no less than the length of a degree of latitude or of longitude
// anywhere on the ellipsoid of WGS 84: the longest is that of latitude at a pole,
// a²/b·π/180.
const metresPerDegree = 111_694

// Rounding is how far a position can lie from the one that it was rounded to, in
// metres: half a unit of the last decimal place given, on both axes. The texts are
// plain decimals, as they were given.
func Rounding(latitude, longitude string) float64 {
	v, err := decimal(latitude)
	if err != nil {
		v = 0 // where degrees of longitude are longest
	}
	return roundingAt(v, halfUnit(latitude), halfUnit(longitude))
}

// roundingAt is Rounding at a latitude, from half a unit of the last decimal places.
func roundingAt(v, lat, lon float64) float64 {
	// A degree of longitude is longest at the end that is nearest to the equator.
	shrink := math.Cos(max(0, min(90, math.Abs(v))-lat) * math.Pi / 180)
	return math.Hypot(lat, lon*shrink) * metresPerDegree
}

// halfUnit is half a unit of the last decimal place of a text, in its own unit.
func halfUnit(text string) float64 {
	_, decimals, _ := strings.Cut(text, ".")
	return math.Pow10(-len(decimals)) / 2
}

// settle puts the row's position into its stem.
func (r *row) settle(g *geometry) {
	s := r.Stem
	s.LatitudeDeg, s.LongitudeDeg = r.Lat, r.Lon
	switch {
	case g != nil && g.outline != nil:
		s.Outline, r.rounding = g.outline, g.rounding
	case g != nil && g.lat != nil:
		r.rounding = g.rounding
	case r.Lat != nil:
		r.rounding = Rounding(r.latText, r.lonText)
	}
	s.CoordinateUncertaintyM = r.WithRounding(r.Uncertainty)
}

// WithRounding adds the rounding of the row's position to how far the true one may lie
// from it, in metres; nil stays nil, for not known.
func (r *Record) WithRounding(metres *float64) *float64 {
	if metres == nil {
		return nil
	}
	return new(*metres + r.rounding)
}

// rings gives the lines of outlines as they are sent.
func rings(outlines []polygon) []*treatmentv1.Ring {
	var list []*treatmentv1.Ring
	for _, p := range outlines {
		for k, line := range p {
			n := len(line) - 1 // the last repeats the first
			sent := &treatmentv1.Ring{Hole: k > 0, LatitudeDeg: make([]float64, n), LongitudeDeg: make([]float64, n)}
			for i, at := range line[:n] {
				sent.LatitudeDeg[i], sent.LongitudeDeg[i] = at.lat, at.lon
			}
			list = append(list, sent)
		}
	}
	return list
}

// pointRounding is Rounding of the coordinates of a Point.
func pointRounding(coordinates json.RawMessage) float64 {
	numbers := literals(coordinates)
	if len(numbers) < 2 {
		return 0
	}
	return Rounding(numbers[1], numbers[0])
}

// outlineRounding is Rounding of the vertices of an outline. Software leaves out
// zeros at the end of a number, so that some of many vertices seem rounded more than
// they are: the finest tells.
func outlineRounding(coordinates json.RawMessage) float64 {
	finest := 1.0
	for _, text := range literals(coordinates) {
		finest = min(finest, halfUnit(text))
	}
	return finest * math.Sqrt2 * metresPerDegree
}

// literals gives the first two numbers of each position in a list, which may be
// nested, as plain decimals.
func literals(list json.RawMessage) []string {
	var numbers []string
	at := 0 // in the position
	for len(list) > 0 {
		end := bytes.IndexAny(list, "[], \t\r\n")
		if end > 0 {
			if at++; at <= 2 {
				numbers = append(numbers, withoutExponent(string(list[:end])))
			}
		}
		if end < 0 {
			break
		}
		if list[end] == '[' {
			at = 0
		}
		list = list[end+1:]
	}
	return numbers
}
