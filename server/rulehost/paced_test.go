package rulehost_test

import (
	"bytes"
	"testing"
	"testing/synctest"
	"time"

	"example.org/rootward/server/rulehost"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The first 64 KiB pass at once; after that a plugin waits a second for 256,000 bytes.
func TestWhatFloodsIsReadSlowly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		w := rulehost.NewPaced(&out)
		began := time.Now()
		write := func(n int) time.Duration {
			written, err := w.Write(make([]byte, n))
			require.NoError(t, err)
			assert.Equal(t, n, written)
			return time.Since(began)
		}
		assert.Zero(t, write(64<<10))
		assert.Zero(t, write(2_559))
		assert.Equal(t, 10*time.Millisecond, write(1))
		assert.Equal(t, time.Second+10*time.Millisecond, write(256_000))
		assert.Equal(t, 64<<10+2_560+256_000, out.Len(), "nothing is lost")
	})
}
