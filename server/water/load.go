package water

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
)

// What a folder of water may hold at most, so that a wrong file does not take all
// memory (common practice, no source). A million edges take about 40 MB.
const (
	maxFileBytes = 512 << 20
	maxFeatures  = 5_000_000  // in a file
	maxEdges     = 20_000_000 // in a folder
	maxFaults    = 50         // that are listed
)

// Load reads every layer of a folder: files that end in .geojson, .json (RFC 7946) or
// .gpkg (OGC 12-128r19); it passes over others. Its error lists all that is wrong with
// all of them.
//
// A feature has these properties, or columns, in whatever case:
//
//   - water_class: one of the words of rules.WaterClass. Lakes, wetlands and estuaries
//     are polygons, because what lies in them is in the water; streams and ditches are
//     lines or polygons; wells, springs and intakes may be points. A line says that
//     the water is no wider than it is: what is wider is drawn as a polygon.
//   - origin, optional: what its edge is, one of the words of rules.DistanceOrigin.
//     Without it no distance to it keeps a buffer that counts from anywhere. From
//     farther inland than the water's edge only polygons count.
//   - state, optional: wet, which gainsays who says that all water of the class is dry, or
//     dry, which shows nothing of the day.
//   - area_m2, optional, of lakes: else, or where less is stated than is drawn, it is
//     computed, if the lake is drawn as polygons are to be, and whole, and without an
//     uncertainty.
//   - uncertainty_m, optional: how far its true place may lie from where it is drawn.
//     Every distance to it is shorter by that.
//
// A FeatureCollection may state water_class, origin and uncertainty_m itself, for those
// of its features that do not.
//
// Where a layer shows all there is of a class, a polygon says so: it has the property
// coverage_of, a word of rules.WaterClass or a list of them (in a column, with commas
// between), and no water_class. Its origin, optional, is that of the lines it would
// show, where it shows none. Where it crosses longitude 180 it is cut there.
func Load(dir string) (*Layers, error) {
	began := time.Now()
	l := loader{names: map[string]string{}}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("the folder of water layers cannot be read: %w", err)
	}
	for _, e := range entries {
		l.file(dir, e.Name())
	}
	if len(l.files) == 0 && l.faults.none() {
		l.faults.add(dir, "holds no file that ends in .geojson, .json or .gpkg; put one there, or name another folder")
	}
	if err := l.faults.err(); err != nil {
		return nil, err
	}
	loaded := l.index()
	loaded.took = time.Since(began)
	return loaded, nil
}

// index puts all that was read into one index.
func (l *loader) index() *Layers {
	before := heap()
	var b builder
	loaded := &Layers{}
	for i := range l.files {
		b.layer = i
		loaded.described = append(loaded.described, b.file(&l.files[i]))
	}
	slices.SortFunc(loaded.described, func(a, b Layer) int { return strings.Compare(a.Name, b.Name) })
	loaded.index = b.finish()
	loaded.bytes = max(0, heap()-before)
	runtime.KeepAlive(l) // what was read is in both measurements
	return loaded
}

// heap is the memory in use after a collection of garbage.
func heap() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// loader reads the files of a folder.
type loader struct {
	faults faults
	files  []layerFile
	names  map[string]string // the file of each name
	edges  int
}

// layerFile is what was read from one file.
type layerFile struct {
	name, digest string
	features     []feature
}

// readers read what a file of each ending holds.
var readers = map[string]func(r *reader, path string) (digest string, err error){
	".geojson": (*reader).geoJSON, ".json": (*reader).geoJSON, ".gpkg": (*reader).geoPackage,
}

func (l *loader) file(dir, file string) {
	read, ok := readers[strings.ToLower(filepath.Ext(file))]
	if !ok {
		return
	}
	name := strings.TrimSuffix(file, filepath.Ext(file))
	if other, twice := l.names[name]; twice {
		l.faults.add(file, "has the name of the layer %s; give it another", other)
		return
	}
	l.names[name] = file
	if info, err := os.Stat(filepath.Join(dir, file)); err != nil || !info.Mode().IsRegular() {
		l.faults.add(file, "is not a regular file; put the layer itself there, or a link to it")
		return
	} else if info.Size() > maxFileBytes {
		l.faults.add(file, "%v", errTooLong)
		return
	}
	r := reader{file: file, faults: &l.faults, edges: &l.edges}
	digest, err := read(&r, filepath.Join(dir, file))
	if err != nil {
		l.faults.add(file, "%v", err)
	}
	l.files = append(l.files, layerFile{name: name, digest: digest, features: r.features})
}

// file puts the features of a file into the index, and describes them.
func (b *builder) file(file *layerFile) Layer {
	d := Layer{Name: file.name, Digest: file.digest}
	from := len(b.sources)
	counts := map[uint32]int{} // by group
	for i := range file.features {
		f := &file.features[i]
		b.add(f)
		if f.covers.Empty() {
			d.Features++
			d.Edges += f.shape.edges()
			counts[b.shapes[len(b.shapes)-1].group]++
		}
	}
	for i := range b.sources[from:] {
		d.Coverages = append(d.Coverages, b.coverages(&b.sources[from+i], file.features, counts)...)
	}
	slices.SortFunc(d.Coverages, func(a, b Coverage) int {
		return cmp.Or(cmp.Compare(a.Class, b.Class), cmp.Compare(a.Origin, b.Origin))
	})
	return d
}

// coverages describes what a layer says of a class: an entry for each origin.
func (b *builder) coverages(s *source, features []feature, counts map[uint32]int) []Coverage {
	var area [][]Ring
	for i := range features {
		if features[i].covers.Has(s.class) {
			area = append(area, features[i].shape.polygons...)
		}
	}
	var list []Coverage
	for _, g := range s.water {
		list = append(list, Coverage{Class: s.class, Origin: b.groups[g].origin, Features: counts[g], Area: area})
	}
	if len(list) == 0 {
		list = append(list, Coverage{Class: s.class, Origin: b.originOf(s), Area: area})
	}
	return list
}

// edges counts segments and single points.
func (g *geometry) edges() int {
	n := len(g.points)
	for _, line := range g.lines {
		n += len(line) - 1
	}
	for _, p := range g.polygons {
		for _, r := range p {
			n += len(r) - 1
		}
	}
	return n
}

// faults gathers what is wrong with a folder.
type faults struct {
	list []error
	more int
}

func (f *faults) none() bool { return len(f.list) == 0 }

func (f *faults) add(where, format string, args ...any) {
	if len(f.list) == maxFaults {
		f.more++
		return
	}
	f.list = append(f.list, fmt.Errorf("%s: "+format, append([]any{where}, args...)...))
}

func (f *faults) err() error {
	if f.more > 0 {
		return errors.Join(append(f.list, fmt.Errorf("and %d more", f.more))...)
	}
	return errors.Join(f.list...)
}

// contents reads a file and its digest.
func contents(path string) ([]byte, string, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, "", err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxFileBytes+1))
	if err != nil {
		return nil, "", err
	}
	if len(data) > maxFileBytes {
		return nil, "", errTooLong
	}
	sum := sha256.Sum256(data)
	return data, hex.EncodeToString(sum[:]), nil
}

var errTooLong = fmt.Errorf("is longer than %d bytes; split it into several layers", maxFileBytes)
