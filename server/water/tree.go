package water

import (
	"cmp"
	"math"
	"slices"
)

// tree finds what lies in a box. It is made once, of all that is in it, in slices without
// pointers: a query looks at few places in memory.
type tree struct {
	// levels are boxes. The lowest are of what the tree holds, along a curve; above lies a
	// box round each fanout of the level below.
	levels [][]tile
	items  []uint32 // what the lowest are of
}

// fanout is how many boxes a box of the next level is round (measured: 8 is slower).
const fanout = 16

// tile is a box in parts of a degree, rounded outwards.
type tile struct{ west, south, east, north int32 }

const (
	tilesPerDegree = 1 << 21   // 5 cm
	farthestTile   = 1<<30 - 1 // so that the difference of two is an int32; it is beyond 510 degrees
)

// tile rounds a box outwards.
func (b box) tile() tile {
	return tile{west: tileBelow(b.low.Longitude), south: tileBelow(b.low.Latitude), east: -tileBelow(-b.high.Longitude), north: -tileBelow(-b.high.Latitude)}
}

func tileBelow(degrees float64) int32 {
	return int32(max(-farthestTile, min(farthestTile, math.Floor(degrees*tilesPerDegree))))
}

func (t tile) with(o tile) tile {
	return tile{min(t.west, o.west), min(t.south, o.south), max(t.east, o.east), max(t.north, o.north)}
}

// meets tells whether two boxes have a place in common. It does not branch: which of the
// boxes of a tree do cannot be foretold.
func (t *tile) meets(o *tile) bool {
	return (t.east-o.west)|(o.east-t.west)|(t.north-o.south)|(o.north-t.south) >= 0
}

// newTree makes a tree of boxes; it holds their places in the list.
func newTree(boxes []tile) tree {
	if len(boxes) == 0 {
		return tree{}
	}
	all := boxes[0]
	for _, b := range boxes {
		all = all.with(b)
	}
	type place struct {
		along uint64
		item  uint32
	}
	places := make([]place, len(boxes))
	for i := range boxes {
		places[i] = place{boxes[i].along(all), uint32(i)}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Compare(a.along, b.along) })
	t := tree{items: make([]uint32, len(boxes))}
	lowest := make([]tile, len(boxes))
	for i, p := range places {
		t.items[i], lowest[i] = p.item, boxes[p.item]
	}
	t.levels = append(t.levels, lowest)
	for below := lowest; len(below) > fanout; {
		above := make([]tile, 0, (len(below)+fanout-1)/fanout)
		for group := range slices.Chunk(below, fanout) {
			round := group[0]
			for _, b := range group {
				round = round.with(b)
			}
			above = append(above, round)
		}
		t.levels = append(t.levels, above)
		below = above
	}
	return t
}

// along is how far along a curve of Hilbert's, which fills a box, the middle of another
// lies: what is near along it is near on the ground.
func (t tile) along(all tile) uint64 {
	const bits = 31 // of the difference of two tiles
	x := uint32((int64(t.west)+int64(t.east))/2 - int64(all.west))
	y := uint32((int64(t.south)+int64(t.north))/2 - int64(all.south))
	d := uint64(0)
	for s := bits - 1; s >= 0; s-- {
		right, up := x>>s&1, y>>s&1
		d = d<<2 | uint64(3*right^up)
		if up == 0 {
			if right == 1 {
				x, y = ^x, ^y
			}
			x, y = y, x
		}
	}
	return d
}

// search adds what meets a box to a list.
func (t *tree) search(b tile, found []uint32) []uint32 {
	start := len(found)
	for k := len(t.levels) - 1; k >= 0; k-- {
		if level := t.levels[k]; k == len(t.levels)-1 {
			found = meeting(found, level, 0, &b)
		} else {
			end := len(found)
			for _, i := range found[start:end] {
				first := int(i) * fanout
				found = meeting(found, level[first:min(first+fanout, len(level))], i*fanout, &b)
			}
			found = found[:start+copy(found[start:], found[end:])]
		}
	}
	for i := range found[start:] {
		found[start+i] = t.items[found[start+i]]
	}
	return found
}

// meeting adds those of a group of boxes that meet one, by their places in a level.
func meeting(found []uint32, group []tile, first uint32, b *tile) []uint32 {
	for i := range group {
		if group[i].meets(b) {
			found = append(found, first+uint32(i))
		}
	}
	return found
}

// within adds what a tree holds in a box to a list. What sticks out past longitude 180 is
// sought on the other side, too.
func (t *tree) within(b box, found []uint32) []uint32 {
	found = t.search(b.tile(), found)
	if b.low.Longitude <= -180 && b.high.Longitude >= 180 {
		return found
	}
	if b.low.Longitude < -180 {
		found = t.search(b.shifted(360).tile(), found)
	}
	if b.high.Longitude > 180 {
		found = t.search(b.shifted(-360).tile(), found)
	}
	return found
}
