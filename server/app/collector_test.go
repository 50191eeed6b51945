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
	for used, want := range map[uint64]int{0: 800, 1 << 20: 800, ample / 9: 800, ample / 5: 400, ample / 2: 100, ample * 2 / 3: 50, ample: 50, 1 << 40: 50} {
		assert.Equal(t, want, percentFor(used), "%d bytes", used)
	}
	for used := uint64(1 << 20); used < 1<<30; used += 1 << 20 {
		goal := used + used*uint64(percentFor(used))/100
		assert.LessOrEqual(t, goal, max(ample, used*3/2), "%d bytes", used)
	}
}

// growth is by how many percent the heap may grow before its garbage is collected.
func growth() int {
	s := []metrics.Sample{{Name: "/gc/gogc:percent"}}
	metrics.Read(s)
	return int(s[0].Value.Uint64())
}

func TestRoomIsSetAfterATurn(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(usualPercent))
	defer paceCollector()()
	used := make([]byte, ample)
	assert.Eventually(t, func() bool {
		runtime.GC()
		return growth() == leastPercent
	}, time.Minute, time.Millisecond)
	runtime.KeepAlive(used)
}

func TestAStatedPercentageIsHeeded(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(70))
	defer paceCollector()()
	assert.Equal(t, 70, growth())
}
