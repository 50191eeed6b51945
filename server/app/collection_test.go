package app_test

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/server/app"
)

// growth is by how many percent the heap may grow before its garbage is collected.
func growth() int {
	s := []metrics.Sample{{Name: "/gc/gogc:percent"}}
	metrics.Read(s)
	return int(s[0].Value.Uint64())
}

func TestTheFirstCollectionEndsItsPostponement(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(100))
	app.PostponeCollection()
	assert.Equal(t, 800, growth())
	assert.Eventually(t, func() bool {
		runtime.GC()
		return growth() == 100
	}, time.Minute, time.Millisecond)
}

func TestAStatedCollectionIsHeeded(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(50))
	app.PostponeCollection()
	assert.Equal(t, 50, growth())
}
