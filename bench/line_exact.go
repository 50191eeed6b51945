package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/server/water"

	"example.org/rootward/bench/postgres"
)

// exactReach is how far the points lie from their edges at most, in metres.
const exactReach = 1_000

// drawnEdge is an edge with a point at a known distance from it: the geodesic from the
// point meets the edge at a right angle.
type drawnEdge struct {
	from, to, foot, point postgres.Point
	azimuth, length       float64 // of the edge, at from
	along, off            float64 // metres from from to the foot, and from there to the point
}

// exact holds distances against GeographicLib's geodesics.
func (b *bench) exact(ctx context.Context) (result, error) {
	drawn, err := drawEdges(ctx, b.size(40_000, 5_000))
	if err != nil {
		return result{}, err
	}
	edges := make([][2]postgres.Point, len(drawn))
	for i, e := range drawn {
		edges[i] = [2]postgres.Point{e.from, e.to}
	}
	layers, err := b.layers(edges, "")
	if err != nil {
		return result{}, err
	}
	finder := streams(layers, 2*exactReach)
	worst, largest, unsafe := 0.0, 0.0, 0
	for _, e := range drawn {
		m := finder.Measure(&water.Spot{Point: water.Point{Latitude: e.point.Latitude, Longitude: e.point.Longitude}})
		d, known := m.Seen.Get(rules.PerennialStream) // no coverage is stated
		if !known || d.AtLeast {
			return result{}, fmt.Errorf("point %v: the edge at %v, %.4f m off, was not found", e.point, e.foot, e.off)
		}
		wrong := e.off - d.Distance.Metres()
		if wrong < -slack {
			unsafe++
		}
		worst = max(worst, math.Abs(wrong)/allowed(e.off))
		if e.off < 100 {
			largest = max(largest, math.Abs(wrong))
		}
	}
	r := result{line: errorLine, ratio: worst, peer: "1 mm under 100 m, 0.01 % above",
		measured: fmt.Sprintf("%.3g mm under 100 m at most, %d of %d too long", largest*1e3, unsafe, len(drawn))}
	if unsafe > 0 {
		r.failed = fmt.Sprintf("%d of %d distances are longer than the true one: a buffer may be passed", unsafe, len(drawn))
	}
	return r, nil
}

// slack is what the check itself may be wrong by, in metres: that edges that do not
// follow a meridian are straight in degrees and not geodesics.
const slack = 5e-6

// allowed is how far a distance may be wrong, in metres.
func allowed(distance float64) float64 {
	if distance < 100 {
		return 0.001
	}
	return distance * 0.0001
}

// drawEdges draws edges so far from each other that a point is near to its own alone.
// Half of them follow a meridian, which is a geodesic, and are up to a kilometre long; the
// others are short and have any direction.
func drawEdges(ctx context.Context, n int) ([]drawnEdge, error) {
	random := rand.New(rand.NewPCG(seed, 3))
	list := make([]drawnEdge, n)
	perRow := int(math.Ceil(math.Sqrt(float64(n))))
	for i := range list {
		e := &list[i]
		e.from = postgres.Point{Longitude: -170 + 340*float64(i%perRow)/float64(perRow), Latitude: -70 + 140*float64(i/perRow)/float64(perRow)}
		e.azimuth, e.length = 180*float64(random.IntN(2)), 1_000*random.Float64()+1
		if i%2 == 1 {
			e.azimuth, e.length = 360*random.Float64(), 1+4*random.Float64()
		}
		e.along = e.length * random.Float64()
		e.off = math.Exp(random.Float64()*math.Log(exactReach*100)) / 100 // 1 cm to the reach, as often a digit
	}
	if _, err := direct(ctx, list, func(e *drawnEdge) (postgres.Point, float64, float64) { return e.from, e.azimuth, e.length }, func(e *drawnEdge, p postgres.Point, _ float64) { e.to = p }); err != nil {
		return nil, err
	}
	azimuths, err := direct(ctx, list, func(e *drawnEdge) (postgres.Point, float64, float64) { return e.from, e.azimuth, e.along }, func(e *drawnEdge, p postgres.Point, _ float64) { e.foot = p })
	if err != nil {
		return nil, err
	}
	i := -1
	_, err = direct(ctx, list, func(e *drawnEdge) (postgres.Point, float64, float64) {
		i++
		return e.foot, azimuths[i] + 90, e.off
	}, func(e *drawnEdge, p postgres.Point, _ float64) { e.point = p })
	return list, err
}

// direct follows a geodesic from a point by azimuth and length, for each edge, with
// GeographicLib's GeodSolve. It gives the azimuths at the ends.
func direct(ctx context.Context, list []drawnEdge, ask func(*drawnEdge) (postgres.Point, float64, float64), set func(*drawnEdge, postgres.Point, float64)) ([]float64, error) {
	var in strings.Builder
	for i := range list {
		p, azimuth, length := ask(&list[i])
		fmt.Fprintf(&in, "%.15f %.15f %.15f %.12f\n", p.Latitude, p.Longitude, azimuth, length)
	}
	cmd := exec.CommandContext(ctx, "GeodSolve", "-p", "10")
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("GeodSolve of GeographicLib (Debian's geographiclib-tools): %w", err)
	}
	azimuths := make([]float64, 0, len(list))
	for line := range strings.Lines(string(out)) {
		var p postgres.Point
		var azimuth float64
		if _, err := fmt.Sscan(line, &p.Latitude, &p.Longitude, &azimuth); err != nil {
			return nil, fmt.Errorf("GeodSolve says %q: %w", line, err)
		}
		set(&list[len(azimuths)], p, azimuth)
		azimuths = append(azimuths, azimuth)
	}
	if len(azimuths) != len(list) {
		return nil, fmt.Errorf("GeodSolve answers %d of %d lines", len(azimuths), len(list))
	}
	return azimuths, nil
}
