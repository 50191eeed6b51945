package water_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/server/water"
)

// The tests of make test-water hold distances against programs that others wrote, on
// shores that others measured.

// oracle gives the path of a program, and skips the test unless make test-water asks
// for it: then it must be there.
func oracle(t testing.TB, name string) string {
	t.Helper()
	if os.Getenv("ROOTWARD_TEST_WATER") == "" {
		t.Skip("make test-water runs this")
	}
	path, err := exec.LookPath(name)
	if err != nil {
		found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
		require.NotEmpty(t, found, "%s is not there: run make test-water", name)
		path = found[len(found)-1]
	}
	return path
}

// edge is an edge of a real shore.
type edge struct{ a, b water.Point }

func (e edge) at(s float64) water.Point {
	return water.Point{
		Latitude:  e.a.Latitude + s*(e.b.Latitude-e.a.Latitude),
		Longitude: wrap(e.a.Longitude + s*math.Remainder(e.b.Longitude-e.a.Longitude, 360)),
	}
}

// near is the part of an edge so many metres to both sides of a place on it.
func (e edge) near(p water.Point, metres float64) edge {
	length := geodesic(e.a, e.b)
	_, middle := flat(p, e)
	half := metres / math.Max(length, 1e-6)
	return edge{e.at(math.Max(0, middle-half)), e.at(math.Min(1, middle+half))}
}

// binned is a file of Debian's gmt-gshhg-high (GSHHG 2.3.7, LGPL 3 or later): lines
// cut into squares of two degrees, from the north-west. GDAL reads its arrays.
type binned struct {
	t    testing.TB
	file string
}

func (b binned) array(name string) []float64 {
	out, err := exec.CommandContext(b.t.Context(), oracle(b.t, "gdalmdiminfo"), "-detailed", "-nopretty", "-array", name, filepath.Join("/usr/share/gmt-gshhg", b.file)).Output()
	require.NoError(b.t, err)
	var array struct{ Values []float64 }
	require.NoError(b.t, json.Unmarshal(out, &array))
	require.NotEmpty(b.t, array.Values)
	return array.Values
}

// lines gives the lines of one square of every so many.
func (b binned) lines(every int) (lines [][]water.Point) {
	lon, lat := b.array("Relative_longitude_from_SW_corner_of_bin"), b.array("Relative_latitude_from_SW_corner_of_bin")
	first, start, count := b.array("Id_of_first_segment_in_a_bin"), b.array("Id_of_first_point_in_a_segment"), b.array("N_segments_in_a_bin")
	degrees := func(v float64) float64 { return float64(uint16(int16(v))) * 2 / 65535 }
	for bin := range first {
		if bin%every != 0 {
			continue
		}
		west, south := float64(bin%180)*2, 88-float64(bin/180)*2
		for s := int(first[bin]); s < int(first[bin]+count[bin]); s++ {
			end := len(lon)
			if s+1 < len(start) {
				end = int(start[s+1])
			}
			var line []water.Point
			for i := int(start[s]); i < end; i++ {
				line = append(line, water.Point{Latitude: south + degrees(lat[i]), Longitude: wrap(west + degrees(lon[i]))})
			}
			if len(line) > 1 {
				lines = append(lines, line)
			}
		}
	}
	return lines
}

// rivers are those of testdata/open.
func rivers(t testing.TB) (lines [][]water.Point) {
	text, err := os.ReadFile("../../testdata/open/rivers.geojson")
	require.NoError(t, err)
	var c struct {
		Features []struct {
			Geometry struct{ Coordinates [][2]float64 }
		}
	}
	require.NoError(t, json.Unmarshal(text, &c))
	for _, f := range c.Features {
		var line []water.Point
		for _, p := range f.Geometry.Coordinates {
			line = append(line, water.Point{Latitude: p[1], Longitude: p[0]})
		}
		lines = append(lines, line)
	}
	return lines
}

// shores are coasts and rivers of all the world, and their edges.
type shores struct {
	lines [][]water.Point
	edges []edge
	index *water.Layers
	cells map[[2]int][]int32 // edges near a place
}

// realShores reads the shores once for all tests.
func realShores(t testing.TB) *shores {
	once.Do(func() { real = readShores(t) })
	require.NotNil(t, real, "the shores could not be read")
	return real
}

var (
	once sync.Once
	real *shores
)

func readShores(t testing.TB) *shores {
	s := &shores{cells: map[[2]int][]int32{}}
	s.lines = append(binned{t, "binned_GSHHS_h.nc"}.lines(8), binned{t, "binned_river_h.nc"}.lines(8)...)
	s.lines = append(s.lines, rivers(t)...)
	for _, line := range s.lines {
		for i := range len(line) - 1 {
			s.add(edge{line[i], line[i+1]})
		}
	}
	s.load(t)
	return s
}

// A degree has so many cells either way.
const cellsPerDegree = 20

// cell gives the cell at a point, or one so many from it.
func cell(p water.Point, north, east int) [2]int {
	const round = 360 * cellsPerDegree
	lon := int(math.Floor(p.Longitude*cellsPerDegree)) + east
	return [2]int{int(math.Floor(p.Latitude*cellsPerDegree)) + north, (lon + 2*round) % round}
}

// add enters an edge into every cell that it comes by.
func (s *shores) add(e edge) {
	s.edges = append(s.edges, e)
	steps := 1 + int(math.Hypot(e.b.Latitude-e.a.Latitude, math.Remainder(e.b.Longitude-e.a.Longitude, 360))*cellsPerDegree*4)
	last := [2]int{math.MaxInt, 0}
	for i := range steps + 1 {
		if c := cell(e.at(float64(i)/float64(steps)), 0, 0); c != last {
			s.cells[c] = append(s.cells[c], int32(len(s.edges)-1))
			last = c
		}
	}
}

// around gives the edges of the cells about a point, which hold all within 2.5 km.
func (s *shores) around(p water.Point) []int32 {
	wide := 1 + int(0.5/math.Max(0.01, math.Cos(p.Latitude*math.Pi/180)))
	var near []int32
	seen := map[int32]bool{}
	for lat := -1; lat <= 1; lat++ {
		for lon := -wide; lon <= wide; lon++ {
			for _, i := range s.cells[cell(p, lat, lon)] {
				if !seen[i] {
					seen[i] = true
					near = append(near, i)
				}
			}
		}
	}
	return near
}

// flat is the distance from a point to an edge, and where on it, on a plane that
// touches a sphere there. It is wrong by 1 % or so.
func flat(p water.Point, e edge) (d, s float64) {
	const metre = 111_195
	wide := metre * math.Cos(p.Latitude*math.Pi/180)
	at := func(q water.Point) (x, y float64) {
		return math.Remainder(q.Longitude-p.Longitude, 360) * wide, (q.Latitude - p.Latitude) * metre
	}
	ax, ay := at(e.a)
	bx, by := at(e.b)
	if whole := (bx-ax)*(bx-ax) + (by-ay)*(by-ay); whole > 0 {
		s = math.Max(0, math.Min(1, -(ax*(bx-ax)+ay*(by-ay))/whole))
	}
	return math.Hypot(ax+s*(bx-ax), ay+s*(by-ay)), s
}

// nearest finds the nearest point of all shores: the edges that may hold it on the
// plane, and on those the least way over the ellipsoid, by the golden section.
func (s *shores) nearest(p water.Point) (foot water.Point, d float64) {
	candidates := s.around(p)
	rough := math.Inf(1)
	for _, i := range candidates {
		d, _ := flat(p, s.edges[i])
		rough = math.Min(rough, d)
	}
	d = math.Inf(1)
	for _, i := range candidates {
		if near, _ := flat(p, s.edges[i]); near > rough*1.03+0.001 {
			continue
		}
		if q, own := golden(p, s.edges[i]); own < d {
			foot, d = q, own
		}
	}
	return foot, d
}

func golden(p water.Point, e edge) (water.Point, float64) {
	const ratio = 0.6180339887498949
	near, middle := flat(p, e)
	length := geodesic(e.a, e.b)
	half := (near*0.05 + 0.01) / math.Max(length, 1e-6) // beyond what the plane is wrong by
	low, high := math.Max(0, middle-half), math.Min(1, middle+half)
	f := func(s float64) float64 { return geodesic(p, e.at(s)) }
	x, y := high-ratio*(high-low), low+ratio*(high-low)
	fx, fy := f(x), f(y)
	for range 40 {
		if fx < fy {
			high, y, fy = y, x, fx
			x = high - ratio*(high-low)
			fx = f(x)
		} else {
			low, x, fx = x, y, fy
			y = low + ratio*(high-low)
			fy = f(y)
		}
	}
	best, least := e.at(x), fx
	for _, s := range []float64{low, high} {
		if d := f(s); d < least {
			best, least = e.at(s), d
		}
	}
	return best, least
}

// beside gives a point some metres from an edge, straight out to either side.
func (s *shores) beside(random *rand.Rand, e edge, metres float64) water.Point {
	p := e.at(random.Float64())
	wide := math.Cos(p.Latitude * math.Pi / 180)
	way := math.Atan2(e.b.Latitude-e.a.Latitude, math.Remainder(e.b.Longitude-e.a.Longitude, 360)*wide) + math.Pi/2
	if random.IntN(2) == 0 {
		way += math.Pi
	}
	return water.Point{
		Latitude:  clamp(p.Latitude+metres*math.Sin(way)/111_195, 90),
		Longitude: wrap(p.Longitude + metres*math.Cos(way)/(111_195*wide)),
	}
}

// load indexes the shores as streams.
func (s *shores) load(t testing.TB) {
	features := []object{all()}
	for _, line := range s.lines {
		features = append(features, stream(positions(line)...))
	}
	s.index = load(t, collection(features...))
	t.Logf("%d edges of real shores, %d bytes, loaded in %v", len(s.edges), s.index.IndexBytes(), s.index.LoadTime())
}

func positions(line []water.Point) (list [][2]float64) {
	for _, p := range line {
		list = append(list, [2]float64{p.Longitude, p.Latitude})
	}
	return list
}

const oraclePoints = 120_000

// Distances against GeographicLib's GeodSolve (Karney, Algorithms for geodesics,
// Journal of Geodesy 87, 2013), which is right to 15 nanometres.
func TestAgainstGeodSolve(t *testing.T) {
	solve := oracle(t, "GeodSolve")
	s := realShores(t)
	f := s.index.Finder(rules.AnyOf(rules.PerennialStream), 5_000_000_000)
	random := rand.New(rand.NewPCG(4, 2013))

	points, feet := make([]water.Point, oraclePoints), make([]water.Point, oraclePoints)
	var pairs bytes.Buffer
	for i := range points {
		off := math.Pow(10, random.Float64()*5.3-2) // 1 cm to 2 km
		points[i] = s.beside(random, s.edges[random.IntN(len(s.edges))], off)
		feet[i], _ = s.nearest(points[i])
		fmt.Fprintf(&pairs, "%.18f %.18f %.18f %.18f\n", points[i].Latitude, points[i].Longitude, feet[i].Latitude, feet[i].Longitude)
	}
	cmd := exec.CommandContext(t.Context(), solve, "-i", "-p", "9")
	cmd.Stdin = &pairs
	out, err := cmd.Output()
	require.NoError(t, err)
	solved := strings.Split(strings.TrimSpace(string(out)), "\n")
	require.Len(t, solved, oraclePoints)

	var under, above, longest float64
	for i, line := range solved {
		want, err := strconv.ParseFloat(strings.Fields(line)[2], 64)
		require.NoError(t, err)
		m := f.Measure(&water.Spot{Point: points[i]})
		d, _ := m.Water.Get(rules.PerennialStream)
		require.False(t, d.AtLeast)
		short := want - inMetres(d.Distance)
		longest = max(longest, -short)
		if want < 100 {
			under = max(under, short)
		} else {
			above = max(above, short/want)
		}
	}
	t.Logf("%d points: at most %.3f mm short under 100 m, %.5f %% above; at most %g m too long", oraclePoints, under*1e3, above*100, longest)
	require.LessOrEqual(t, longest, 0.0, "longer than the true distance")
	require.LessOrEqual(t, under, 1e-3)
	require.LessOrEqual(t, above, 1e-4)
}
