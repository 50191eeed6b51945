package water

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// blob reads the geometry of a GeoPackage (OGC 12-128r19, clause 2.1.3): a header, and
// well-known binary (OGC 06-103r4, clause 8) after it. A count in it is believed no
// further than there are bytes.
type blob struct {
	data  []byte
	order binary.ByteOrder
	err   error // the first
}

var errShort = errors.New("ends too soon; write the layer again")

// The flags of a header.
const (
	flagLittle   = 1
	flagEmpty    = 1 << 4
	flagExtended = 1 << 5
)

// envelopeBytes is the length of each kind of envelope.
var envelopeBytes = []int{0, 32, 48, 48, 64}

// readBlob reads a geometry that must be in a reference system.
func readBlob(data []byte, srs int32) (g geometry, err error) {
	b := blob{data: data, order: binary.BigEndian}
	head := b.take(4)
	if b.err != nil || string(head[:2]) != "GP" || head[2] != 0 {
		return g, errors.New("does not start as a geometry of a GeoPackage does, with GP and version 0")
	}
	flags := head[3]
	if flags&flagLittle != 0 {
		b.order = binary.LittleEndian
	}
	if own := int32(b.uint32()); b.err == nil && own != srs {
		return g, fmt.Errorf("is in the reference system srs_id %d and its table in %d; write the layer again", own, srs)
	}
	kind := int(flags >> 1 & 7)
	if flags&flagExtended != 0 || kind >= len(envelopeBytes) {
		return g, errors.New("is of an extended kind; write the layer with the types of GeoPackage's core")
	}
	b.take(envelopeBytes[kind])
	if b.err == nil && flags&flagEmpty != 0 {
		return g, nil
	}
	b.geometry(&g, 0, 0)
	if b.err == nil && len(b.data) > 0 {
		b.err = fmt.Errorf("has %d bytes after its end; write the layer again", len(b.data))
	}
	return g, b.err
}

// take gives the next bytes, which it makes up if there are not so many.
func (b *blob) take(n int) []byte {
	if b.err != nil || len(b.data) < n {
		if b.err == nil {
			b.err = errShort
		}
		return make([]byte, min(n, 64))
	}
	taken := b.data[:n]
	b.data = b.data[n:]
	return taken
}

func (b *blob) uint32() uint32   { return b.order.Uint32(b.take(4)) }
func (b *blob) float64() float64 { return math.Float64frombits(b.order.Uint64(b.take(8))) }

// The types of well-known binary.
const (
	typePoint = iota + 1
	typeLine
	typePolygon
	typePoints
	typeLines
	typePolygons
	typeCollection
)

// geometry adds a geometry, which must be of the wanted type if that is not 0.
func (b *blob) geometry(g *geometry, wanted uint32, depth int) {
	b.order = binary.BigEndian
	if b.take(1)[0] == 1 {
		b.order = binary.LittleEndian
	}
	code := b.uint32()
	kind, more := code%1000, code/1000 // thousands: with heights, measures, or both
	extra := []int{0, 1, 1, 2}
	switch {
	case b.err != nil:
		return
	case more > 3 || kind < typePoint || kind > typeCollection || wanted != 0 && kind != wanted:
		b.err = fmt.Errorf("has the type %d where it has no place; write the layer with points, lines, polygons, or several of them", code)
		return
	case depth > maxNesting:
		b.err = fmt.Errorf("has collections in collections, deeper than %d; take the geometries out of them", maxNesting)
		return
	}
	b.body(g, kind, extra[more], depth)
}

func (b *blob) body(g *geometry, kind uint32, extra, depth int) {
	switch kind {
	case typePoint:
		g.points = append(g.points, b.position(extra))
	case typeLine:
		g.lines = append(g.lines, b.line(extra))
	case typePolygon:
		var rings []Ring
		for range b.count(4) {
			rings = append(rings, b.line(extra))
		}
		g.polygons = append(g.polygons, rings)
	default:
		part := map[uint32]uint32{typePoints: typePoint, typeLines: typeLine, typePolygons: typePolygon}[kind]
		for range b.count(5) {
			b.geometry(g, part, depth+1)
		}
	}
}

// count reads how many follow, each of at least so many bytes.
func (b *blob) count(bytes int) int {
	n := int64(b.uint32())
	if b.err == nil && n*int64(bytes) > int64(len(b.data)) {
		b.err = errShort
	}
	if b.err != nil {
		return 0
	}
	return int(n)
}

func (b *blob) line(extra int) []Point {
	n := b.count(8 * (2 + extra))
	line := make([]Point, 0, n)
	for range n {
		line = append(line, b.position(extra))
	}
	return line
}

func (b *blob) position(extra int) Point {
	x, y := b.float64(), b.float64()
	b.take(8 * extra)
	return Point{Latitude: y, Longitude: x}
}
