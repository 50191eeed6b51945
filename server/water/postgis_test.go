package water_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/water"
)

// postgres is a cluster of its own in a folder, on a socket in it.
type postgres struct {
	t    testing.TB
	dir  string
	user *syscall.Credential // whom it runs as; nil: as the test
}

func startPostgres(t testing.TB) *postgres {
	initdb := oracle(t, "initdb")
	dir, err := os.MkdirTemp("", "postgis") // t.TempDir is closed to other users
	require.NoError(t, err)
	p := &postgres{t: t, dir: dir}
	if os.Geteuid() == 0 {
		p.become("postgres")
	}
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	data := filepath.Join(dir, "data")
	p.run(nil, initdb, "-D", data, "-A", "trust", "--no-sync", "-U", "postgres")
	ctl := oracle(t, "pg_ctl")
	p.run(nil, ctl, "-D", data, "-w", "-l", filepath.Join(dir, "log"), "-o", "-c listen_addresses='' -c fsync=off -c jit=off -c unix_socket_directories="+dir, "start")
	t.Cleanup(func() { p.run(nil, ctl, "-D", data, "-w", "-m", "immediate", "stop") })
	p.sql("CREATE EXTENSION postgis", nil)
	return p
}

func (p *postgres) become(name string) {
	u, err := user.Lookup(name)
	require.NoError(p.t, err)
	uid, err := strconv.Atoi(u.Uid)
	require.NoError(p.t, err)
	gid, err := strconv.Atoi(u.Gid)
	require.NoError(p.t, err)
	require.NoError(p.t, os.Chown(p.dir, uid, gid))
	p.user = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
}

func (p *postgres) run(in *bytes.Buffer, name string, args ...string) string {
	cmd := exec.Command(name, args...)
	cmd.Dir = p.dir
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: p.user}
	if in != nil {
		cmd.Stdin = in
	}
	var out, errs bytes.Buffer
	cmd.Stdout = &out
	if filepath.Base(name) != "pg_ctl" { // the server would hold it open
		cmd.Stderr = &errs
	} else {
		cmd.Stdout = nil
	}
	require.NoError(p.t, cmd.Run(), "%s: %s", name, &errs)
	return out.String()
}

func (p *postgres) sql(command string, in *bytes.Buffer) string {
	return p.run(in, oracle(p.t, "psql"), "-X", "-q", "-A", "-t", "-F", " ", "-v", "ON_ERROR_STOP=1", "-h", p.dir, "-U", "postgres", "-c", command)
}

// The buffers that are decided, in metres: round numbers and feet.
var buffers = []float64{3.048, 10, 15.24, 30.48, 50, 91.44}

func bufferOf(id int) float64 { return buffers[id%len(buffers)] }

// neighbourhood is so many points about a place, and what shores are near it.
const (
	neighbourhoods = 5_000
	neighbours     = 26
	vicinity       = 300.0 // metres from the place of which shores are given to PostGIS
)

// pieces gives the part of an edge in the vicinity of a place as points at most 10 m
// apart: PostGIS measures to geodesics, which stray from a line that is straight in
// latitude and longitude by micrometres over so short a way.
func pieces(center water.Point, e edge) []water.Point {
	length := geodesic(e.a, e.b)
	d, middle := flat(center, e)
	if d > vicinity {
		return nil
	}
	half := 2 * vicinity / math.Max(length, 1e-6)
	low, high := math.Max(0, middle-half), math.Min(1, middle+half)
	n := 1 + int((high-low)*length/10)
	var list []water.Point
	for i := range n + 1 {
		list = append(list, e.at(low+(high-low)*float64(i)/float64(n)))
	}
	return list
}

func writeLine(w *bytes.Buffer, points []water.Point) {
	w.WriteString("SRID=4326;LINESTRING(")
	for i, p := range points {
		if i > 0 {
			w.WriteByte(',')
		}
		w.WriteString(strconv.FormatFloat(p.Longitude, 'g', -1, 64))
		w.WriteByte(' ')
		w.WriteString(strconv.FormatFloat(p.Latitude, 'g', -1, 64))
	}
	w.WriteString(")\n")
}

// offset draws how far a point is from a shore: any distance, or just about the buffer
// that is asked for, where a wrong distance would decide otherwise.
func offset(random *rand.Rand, buffer float64) float64 {
	if random.IntN(3) == 0 {
		return random.Float64() * 4 * buffer
	}
	return buffer * (1 + random.NormFloat64()*math.Pow(10, -1-4*random.Float64()))
}

// Decisions against those of PostGIS, on its type geography. It finds the nearest point
// of an edge on a sphere, and measures to that over the ellipsoid, so that its
// distances are up to a millimetre too long.
func TestAgainstPostGIS(t *testing.T) {
	db := startPostgres(t)
	t.Run("buffers of stems", func(t *testing.T) { decideBuffers(t, db) })
	t.Run("lakes and patches", func(t *testing.T) { decideLakes(t, db) })
}

func decideBuffers(t *testing.T, db *postgres) {
	s := realShores(t)
	f := s.index.Finder(rules.AnyOf(rules.PerennialStream), 100*quantity.Metre)
	random := rand.New(rand.NewPCG(15, 24))

	var points []water.Point
	var shore, spots bytes.Buffer
	for range neighbourhoods {
		e := s.edges[random.IntN(len(s.edges))]
		center := e.at(random.Float64())
		for _, i := range s.around(center) {
			if line := pieces(center, s.edges[i]); line != nil {
				writeLine(&shore, line)
			}
		}
		part := e.near(center, 30)
		for range neighbours {
			buffer := bufferOf(len(points))
			p := s.beside(random, part, offset(random, buffer))
			fmt.Fprintf(&spots, "%d\t%g\tSRID=4326;POINT(%.17g %.17g)\n", len(points), buffer, p.Longitude, p.Latitude)
			points = append(points, p)
		}
	}
	db.sql("CREATE TABLE shore (g geography); CREATE TABLE spot (id int, buffer float8, g geography)", nil)
	db.sql("COPY shore FROM STDIN", &shore)
	db.sql("COPY spot FROM STDIN", &spots)
	db.sql("CREATE INDEX ON shore USING gist (g); ANALYZE", nil)
	said := db.sql("SELECT id, EXISTS (SELECT FROM shore WHERE ST_DWithin(shore.g, spot.g, spot.buffer))::int FROM spot", nil)

	decided, kept, otherwise := 0, 0, 0
	for lines := bufio.NewScanner(strings.NewReader(said)); lines.Scan(); decided++ {
		var id, within int
		_, err := fmt.Sscan(lines.Text(), &id, &within)
		require.NoError(t, err)
		m := f.Measure(&water.Spot{Point: points[id]})
		d, known := m.Water.Get(rules.PerennialStream)
		require.True(t, known)
		passes := d.Distance >= quantity.Metres(bufferOf(id))
		require.False(t, within == 1 && passes, "%v is within %g m of water, and passes at %d um", points[id], bufferOf(id), d.Distance)
		if passes {
			kept++
		} else if within == 0 {
			otherwise++
		}
	}
	t.Logf("%d buffers decided, %d kept; %d otherwise, all of them on the safe side", decided, kept, otherwise)
	require.Equal(t, neighbourhoods*neighbours, decided)
	require.Greater(t, kept, decided/5)
	require.Less(t, otherwise, decided/500)
}

// ponds are closed lines of the shores, of islands or lakes, that lie within a square
// and have no edge longer than 500 m: on so long a one PostGIS's geodesic strays 5 mm
// from a line that is straight in latitude and longitude, at 60 degrees.
func (s *shores) ponds(most int) (list [][]water.Point) {
	for _, line := range s.lines {
		longest := 0.0
		for i := range len(line) - 1 {
			longest = math.Max(longest, geodesic(line[i], line[i+1]))
		}
		if len(line) > 4 && line[0] == line[len(line)-1] && longest < 500 && len(list) < most {
			list = append(list, line)
		}
	}
	return list
}

// polygon writes a ring for PostGIS.
func polygon(ring []water.Point) string {
	var b strings.Builder
	for i, p := range ring {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "%.17g %.17g", p.Longitude, p.Latitude)
	}
	return "SRID=4326;POLYGON((" + b.String() + "))"
}

// Points and patches in, across and beside ponds: what PostGIS has within 10 m of one,
// or in it, is never farther here.
func decideLakes(t *testing.T, db *postgres) {
	const (
		buffer    = 10.0
		tolerance = 0.02 // metres that edges are not the same
		each      = 20
	)
	ponds := realShores(t).ponds(1_500)
	random := rand.New(rand.NewPCG(3, 5))
	var lakes, spots bytes.Buffer
	var asked []water.Spot
	features := []object{all()}
	for _, pond := range ponds {
		features = append(features, lake(positions(pond)))
		lakes.WriteString(polygon(pond) + "\n")
		for range each {
			p := inBox(random, pond)
			asked = append(asked, water.Spot{Point: p})
			fmt.Fprintf(&spots, "%d\tSRID=4326;POINT(%.17g %.17g)\n", len(asked)-1, p.Longitude, p.Latitude)
			patch := ringOf(square(p.Longitude, p.Latitude, 15*metre))
			asked = append(asked, water.Spot{Outline: [][]water.Ring{{patch[:4]}}})
			fmt.Fprintf(&spots, "%d\t%s\n", len(asked)-1, polygon(patch))
		}
	}
	db.sql("CREATE TABLE lake (g geography); CREATE TABLE place (id int, g geography)", nil)
	db.sql("COPY lake FROM STDIN", &lakes)
	db.sql("COPY place FROM STDIN", &spots)
	db.sql("CREATE INDEX ON lake USING gist (g); ANALYZE", nil)
	within := db.sql(fmt.Sprintf("SELECT place.id, min(ST_Distance(lake.g, place.g)) FROM place JOIN lake ON ST_DWithin(lake.g, place.g, %g) GROUP BY 1", buffer), nil)

	f := load(t, collection(features...)).Finder(rules.AnyOf(rules.Lake), 50*quantity.Metre)
	near := map[int]bool{}
	for lines := bufio.NewScanner(strings.NewReader(within)); lines.Scan(); {
		var id int
		var theirs float64
		_, err := fmt.Sscan(lines.Text(), &id, &theirs)
		require.NoError(t, err)
		near[id] = true
		m := f.Measure(&asked[id])
		require.LessOrEqual(t, inMetres(distance(t, m, rules.Lake).Distance), theirs+tolerance, "%v", asked[id])
	}
	otherwise := 0
	for id := range asked {
		m := f.Measure(&asked[id])
		if ours := distance(t, m, rules.Lake); ours.Distance < quantity.Metres(buffer) && !near[id] {
			otherwise++
		}
	}
	t.Logf("%d places about %d ponds, %d in or within %g m of one; %d otherwise, all of them on the safe side", len(asked), len(ponds), len(near), buffer, otherwise)
	require.Greater(t, len(near), len(asked)/4)
	require.Less(t, otherwise, len(asked)/500)
}

// inBox gives a point in the box of a ring.
func inBox(random *rand.Rand, ring []water.Point) water.Point {
	low, high := ring[0], ring[0]
	for _, p := range ring {
		low = water.Point{Latitude: min(low.Latitude, p.Latitude), Longitude: min(low.Longitude, p.Longitude)}
		high = water.Point{Latitude: max(high.Latitude, p.Latitude), Longitude: max(high.Longitude, p.Longitude)}
	}
	return water.Point{
		Latitude:  low.Latitude + random.Float64()*(high.Latitude-low.Latitude),
		Longitude: low.Longitude + random.Float64()*(high.Longitude-low.Longitude),
	}
}
