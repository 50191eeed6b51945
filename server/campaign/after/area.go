package after

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/rootward/rules/quantity"
)

// SuckerReach is how far from a large parent suckers may come up: 50 ft (Rutgers Plant &
// Pest Advisory, tree-of-heaven timing).
const SuckerReach = 50 * quantity.Foot

// Position is a point of WGS 84, in degrees.
type Position struct{ Latitude, Longitude float64 }

func (p Position) valid() bool { return math.Abs(p.Latitude) <= 85 && math.Abs(p.Longitude) <= 180 }

// Ground is a treated stem or a treated patch, round which suckers may come up.
type Ground struct {
	ID string
	// At is where the stem stands, or the middle of the patch; nil: not known.
	At *Position
	// Outline are the parts of the patch, which may overlap: the edge of each, then its
	// holes, in any sense, closed or not. It stands above At.
	Outline [][][]Position
	// Size is the area of a patch without an outline, which counts as a disc round At;
	// 0: a stem.
	Size quantity.SquareMillimetres
	// Uncertainty is how far off the position may be. It widens the area.
	Uncertainty quantity.Micrometres
}

// Area is where to look for suckers: the reach round each treated stem and patch,
// merged.
type Area struct {
	// Size is the area of what has a position, each spot counted once.
	Size quantity.SquareMillimetres
	// Rings is its outline, for drawing and walking: polygons of WGS 84 as RFC 7946 has
	// them, the outer ring first and counter-clockwise, rings closed. It holds all of the
	// area, and at the edge some centimetres more; gaps under a square metre are filled.
	Rings [][][]Position
	// Unplaced are the ids of what has no position, sorted. While there are any, the area
	// is not known.
	Unplaced []string
	// Widest is the greatest uncertainty that widens it, and WidestID whose that is.
	Widest   quantity.Micrometres
	WidestID string
	// Fault says why the area could not be worked out; empty: it could.
	Fault string
}

// Known reports whether the area is known as a whole. That of nothing is not.
func (a *Area) Known() bool { return a.Fault == "" && len(a.Unplaced) == 0 && a.Size > 0 }

// Unknown says what is not known, and nothing where the area is known.
func (a *Area) Unknown() string {
	switch {
	case a.Known():
		return ""
	case a.Fault != "":
		return "the inspection area is not known: " + a.Fault
	case len(a.Unplaced) == 0:
		return "the inspection area is not known: no treated stem is known"
	}
	const shown = 5
	names := strings.Join(a.Unplaced[:min(shown, len(a.Unplaced))], ", ")
	if more := len(a.Unplaced) - shown; more > 0 {
		names += fmt.Sprintf(" and %d more", more)
	}
	return fmt.Sprintf("the inspection area is not known: no position of %s, or of all stems of the row: measure it", names)
}

// Limits of what is one site. Beyond its extent the plane in which it is measured bends
// too much; beyond its edges the work takes too long (common practice, no source).
const (
	maxExtent = 5_000.0 // metres from its middle
	maxEdges  = 20_000
)

// InspectionArea merges the discs of a reach round treated stems and patches. A reach
// of less than a micrometre counts as SuckerReach. Distances and areas are those of a
// plane that touches WGS 84 in the middle of the site; at 5 km from it they are off by
// at most one part in a thousand up to latitude 51. Positions are taken to the
// millimetre.
func InspectionArea(grounds []Ground, reach quantity.Micrometres) Area {
	if reach <= 0 {
		reach = SuckerReach
	}
	var a Area
	var placed []Ground
	for i := range grounds {
		if g := &grounds[i]; g.placed() {
			placed = append(placed, *g)
			if g.Uncertainty > a.Widest || g.Uncertainty == a.Widest && a.Widest > 0 && g.ID < a.WidestID {
				a.Widest, a.WidestID = g.Uncertainty, g.ID
			}
		} else {
			a.Unplaced = append(a.Unplaced, g.ID)
		}
	}
	slices.Sort(a.Unplaced)
	if len(placed) == 0 {
		return a
	}
	p := planeRound(placed)
	f := p.figure(placed, reach.Metres())
	switch {
	case p.extent > maxExtent:
		a.Fault = fmt.Sprintf("its stems lie up to %.0f m from their middle, and one site reaches %.0f m: correct the positions, or divide it", p.extent, maxExtent)
		return a
	case len(f.capsules) > maxEdges:
		a.Fault = fmt.Sprintf("it has %d stems and edges, and one site has at most %d: divide it", len(f.capsules), maxEdges)
		return a
	}
	a.Size = quantity.SquareMetres(f.area())
	a.Rings = p.rings(f)
	return a
}

// placed reports whether the ground has a position that is one.
func (g *Ground) placed() bool {
	if g.Uncertainty < 0 || g.Size < 0 {
		return false
	}
	if len(g.Outline) == 0 {
		return g.At != nil && g.At.valid()
	}
	for _, ring := range slices.Concat(g.Outline...) {
		if len(ring) < 3 || slices.ContainsFunc(ring, func(p Position) bool { return !p.valid() }) {
			return false
		}
	}
	return true
}

// figure lays the grounds out in the plane. Their order, and what is said twice, makes
// no difference.
func (p *plane) figure(grounds []Ground, reach float64) *figure {
	f := &figure{}
	for i := range grounds {
		g := &grounds[i]
		r := reach + g.Uncertainty.Metres()
		if len(g.Outline) == 0 {
			at := p.to(*g.At)
			f.capsules = append(f.capsules, capsule{at, at, r + math.Sqrt(float64(g.Size)*1e-6/math.Pi)})
			continue
		}
		for _, part := range g.Outline {
			rings := make([][]point, 0, len(part))
			for _, ring := range part {
				flat := make([]point, len(ring))
				for k := range ring {
					flat[k] = p.to(ring[k])
				}
				rings = append(rings, flat)
				for k := range flat {
					f.capsules = append(f.capsules, newCapsule(flat[k], flat[(k+1)%len(flat)], r))
				}
			}
			f.patches = append(f.patches, rings)
		}
	}
	slices.SortFunc(f.capsules, func(a, b capsule) int {
		return cmp.Or(cmp.Compare(a.from.x, b.from.x), cmp.Compare(a.from.y, b.from.y),
			cmp.Compare(a.to.x, b.to.x), cmp.Compare(a.to.y, b.to.y), cmp.Compare(a.radius, b.radius))
	})
	f.capsules = slices.Compact(f.capsules)
	return f
}
