package app

import (
	"testing"

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
