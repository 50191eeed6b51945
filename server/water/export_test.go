package water

// ReadGeoJSON indexes the text of a FeatureCollection, as Load does that of a file.
func ReadGeoJSON(text []byte) (*Layers, error) {
	return readOne(func(r *reader) error { return r.collection(text) })
}

// ReadBlob indexes one geometry of a GeoPackage in EPSG:4326, as a stream.
func ReadBlob(data []byte) (*Layers, error) {
	return readOne(func(r *reader) error {
		g, err := readBlob(data, 4326)
		if err != nil {
			return err
		}
		return r.add("row", properties{propertyClass: "perennial_stream", propertyOrigin: "water_edge"}, g)
	})
}

func readOne(read func(*reader) error) (*Layers, error) {
	var faults faults
	var edges int
	r := reader{file: "file", faults: &faults, edges: &edges}
	if err := read(&r); err != nil {
		return nil, err
	}
	if err := faults.err(); err != nil {
		return nil, err
	}
	var b builder
	d := b.file(&layerFile{features: r.features})
	return &Layers{index: b.finish(), described: []Layer{d}}, nil
}

// The geometry of the ellipsoid.
var (
	Place   = place
	PointAt = pointAt
	Sagitta = sagitta
	Around  = around
)

// FromLine is the distance of a point from the straight way between two.
func FromLine(p, a, b Point) float64 { return fromLine(place(p), place(a), place(b)) }

// EdgesPerRun is how many edges a run has, at most.
const EdgesPerRun = edgesPerRun

// Within gives which of some boxes, each of its south-west and its north-east, a tree of
// them finds in one.
func Within(boxes [][2]Point, in [2]Point) []uint32 {
	tiles := make([]tile, len(boxes))
	for i, b := range boxes {
		tiles[i] = box{b[0], b[1]}.tile()
	}
	t := newTree(tiles)
	return t.within(box{in[0], in[1]}, nil)
}

// Beyond tells whether the straight way between two points is known at once to be farther
// from a third than a limit.
func Beyond(p, a, b Point, limit float64) bool {
	at := place(p)
	return (&stretch{a: place(a), b: place(b)}).beyond(&at, limit)
}
