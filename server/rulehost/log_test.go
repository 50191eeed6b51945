package rulehost_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"example.org/rootward/server/rulehost"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestLinesAreLoggedWhole(t *testing.T) {
	var out bytes.Buffer
	log := rulehost.NewLineLog(zerolog.New(&out))
	for _, part := range []string{"one ", "line\nan", "other\n\nunended"} {
		n, err := fmt.Fprint(log, part)
		require.NoError(t, err)
		assert.Equal(t, len(part), n)
	}
	assert.Equal(t, 3, strings.Count(out.String(), "\n"))
	for _, line := range []string{`"line":"one line"`, `"line":"another"`, `"line":""`} {
		assert.Contains(t, out.String(), line)
	}
	assert.NotContains(t, out.String(), "unended")
}

func TestManyLinesAreDropped(t *testing.T) {
	var out bytes.Buffer
	log := rulehost.NewLineLog(zerolog.New(&out))
	for i := range 10_000 {
		_, err := fmt.Fprintln(log, "line", i)
		require.NoError(t, err)
	}
	assert.Equal(t, 200, strings.Count(out.String(), "\n"))
	assert.Contains(t, out.String(), `"line":"line 199","last_line_kept":true`)
}
