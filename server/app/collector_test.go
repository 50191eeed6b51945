package app

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestTheCollectorHasRoom(t *testing.T) {
	for used, want := range map[uint64]int{0: 100, 1 << 20: 100, ample: 100, ample * 5 / 4: 80, 2 * ample: 50, 1 << 40: 50} {
		assert.Equal(t, want, percentFor(used), "%d bytes", used)
	}
	last := uint64(0)
	for used := uint64(1 << 20); used < 1<<30; used += 1 << 20 {
		goal := used + used*uint64(percentFor(used))/100
		assert.Greater(t, goal, last, "more in use has no less memory")
		last = goal
	}
}

// growth is by how many percent the heap may grow before its garbage is collected.
func growth() int {
	s := []metrics.Sample{{Name: "/gc/gogc:percent"}}
	metrics.Read(s)
	return int(s[0].Value.Uint64())
}

func TestTheFirstTurnComesLate(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(usualPercent))
	defer paceCollector()()
	assert.GreaterOrEqual(t, growth(), usualPercent) // it may have come already
	assert.Eventually(t, func() bool {
		runtime.GC()
		return growth() <= usualPercent
	}, time.Minute, time.Millisecond)
}

func TestAStatedPercentageIsHeeded(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(70))
	defer paceCollector()()
	assert.Equal(t, 70, growth())
}
