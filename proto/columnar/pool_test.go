package columnar_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/proto/columnar"
)

func TestMemoryHasTheRoomThatIsAskedFor(t *testing.T) {
	m := columnar.Memory()
	for _, n := range []int{0, 1, 1_000, 1_024, 1_025, 16_384, 1_200_000, 1 << 26, 1<<26 + 1} {
		for range 2 {
			b := m.Get(n)
			require.Len(t, *b, n)
			m.Put(b)
		}
	}
	own := make([]byte, 3_000)
	m.Put(&own) // of nobody's size: never given to one who asks for more
	require.Len(t, *m.Get(4_096), 4_096)
}
