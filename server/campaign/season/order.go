package season

import (
	"math"

	"example.org/rootward/rules"
)

// Turn is the place of a stem in a season's order: what spreads farthest first.
type Turn uint8

// The turns, in order (common practice, no source).
const (
	Seeding Turn = iota + 1 // bears seed
	Outlier                 // stands apart: a stand of its own is in the making
	Low                     // low growth, by foliar
	Large                   // everything else
)

var turnWords = [...]string{"", "bears seed: first, before it spreads", "stands apart from all others: early, before a new stand grows there", "low growth by foliar: before the larger stems", "larger stems: after the low growth"}

// String says why a stem has its turn.
func (t Turn) String() string { return turnWords[t] }

// Standing is what the order asks of a stem.
type Standing struct {
	Method   rules.Method
	Seeds    bool
	Placed   bool // whether its position is known
	Lat, Lon float64
}

// apart is how far from all others a stem is an outlier, in metres; common practice, no
// source.
const apart = 50

// Turns gives each stem of a site its turn. A stem without a position is no outlier.
func Turns(stems []Standing) []Turn {
	turns := make([]Turn, len(stems))
	for i := range stems {
		switch s := &stems[i]; {
		case s.Seeds:
			turns[i] = Seeding
		case s.Placed && isApart(stems, i):
			turns[i] = Outlier
		case s.Method == rules.LowVolumeFoliar || s.Method == rules.HighVolumeFoliar:
			turns[i] = Low
		default:
			turns[i] = Large
		}
	}
	return turns
}

func isApart(stems []Standing, i int) bool {
	others := 0
	for at := range stems {
		if at == i || !stems[at].Placed {
			continue
		}
		others++
		if metres(&stems[i], &stems[at]) <= apart {
			return false
		}
	}
	return others > 0
}

// metres is about the distance between two stems of a site: on a sphere, flattened at
// the first.
func metres(a, b *Standing) float64 {
	const perDegree = 111_195
	north := (a.Lat - b.Lat) * perDegree
	east := math.Remainder(a.Lon-b.Lon, 360) * perDegree * math.Cos(a.Lat*math.Pi/180)
	return math.Hypot(north, east)
}
