package wording_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/client/wording"
)

func TestCount(t *testing.T) {
	assert.Equal(t, "0 rows", wording.Count(0, "row"))
	assert.Equal(t, "1 row", wording.Count(int64(1), "row"))
	assert.Equal(t, "2 rows", wording.Count(2, "row"))
}
