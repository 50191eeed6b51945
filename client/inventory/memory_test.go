package inventory_test

import (
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/inventory"
)

// Whatever a file holds, no more of it is kept than a row.
func TestMemoryStaysFlat(t *testing.T) {
	const most = 16 << 20 // of heap
	head := header + ",occurrenceRemarks\n" + good + ",\""
	for name, in := range map[string]*endless{
		"one line":                 {unit: "aaaaaaaa", left: 256 << 20},
		"one quoted field":         {unit: strings.Repeat("a", 8191) + "\n", left: 256 << 20},
		"quotes that stay open":    {unit: "\"" + strings.Repeat("a", 8190) + "\n", left: 128 << 20},
		"rows in quotes, all good": {unit: "\"\n" + good + ",\"aaaaaaaaaaa", left: 32 << 20},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := inventory.NewCSV(io.MultiReader(strings.NewReader(head), in))
			require.NoError(t, err)
			assert.NotZero(t, drain(t, r, func(*inventory.Record) {}))
			assert.Less(t, in.growth(), uint64(most))
		})
	}
	for name, start := range map[string]string{
		"one feature":         `{"type":"FeatureCollection","features":[{"type":"`,
		"one member":          `{"name":"`,
		"space":               `{"type":"FeatureCollection","features":[ `,
		"space at the end":    `{"type":"FeatureCollection","features":[]`,
		"a name":              `{"`,
		"features in a crowd": `{"type":"FeatureCollection","features":[{"type":"Feature"}`,
	} {
		t.Run(name, func(t *testing.T) {
			unit, length := "aaaaaaaa", 32<<20
			switch {
			case strings.HasPrefix(name, "space"):
				unit = "    \n"
			case strings.HasSuffix(name, "crowd"):
				unit, length = ",\n{\"type\":\"Feature\"}", 4<<20
			}
			in := &endless{unit: unit, left: length}
			r, err := inventory.NewGeoJSON(io.MultiReader(strings.NewReader(start), in))
			for err == nil {
				_, err = r.Next()
			}
			var refused *inventory.FileError
			require.ErrorAs(t, err, &refused)
			assert.Less(t, in.growth(), uint64(most))
		})
	}
}

// endless reads a unit over and over, for so many bytes, and watches the heap.
type endless struct {
	unit         string
	left, at     int
	unwatched    int
	before, peak uint64
}

func (e *endless) Read(p []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	n := 0
	for n < len(p) && n < e.left {
		copied := copy(p[n:], e.unit[e.at:])
		n, e.at = n+copied, (e.at+copied)%len(e.unit)
	}
	e.left -= n
	e.watch(n)
	return n, nil
}

func (e *endless) watch(n int) {
	const often = 1 << 20
	e.unwatched -= n
	if e.unwatched > 0 {
		return
	}
	e.unwatched = often
	runtime.GC() // how much garbage there is depends on who else is at work
	var now runtime.MemStats
	runtime.ReadMemStats(&now)
	if e.before == 0 {
		e.before = now.HeapAlloc
	}
	e.peak = max(e.peak, now.HeapAlloc)
}

func (e *endless) growth() uint64 { return e.peak - e.before }
