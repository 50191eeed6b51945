package rootward_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var reproduced = regexp.MustCompile("`go test (\\./\\S+) -run '?([^`']+)'?`")

// Every fault that the document lists names tests that are there.
func TestRobustnessNamesTestsThatExist(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("docs", "robustness.md"))
	require.NoError(t, err)
	commands := reproduced.FindAllStringSubmatch(string(text), -1)
	rows := strings.Count(string(text), "\n| ") - strings.Count(string(text), "\n| fact |") -
		strings.Count(string(text), "\n| fault |") - strings.Count(string(text), "\n| attempt |")
	assert.Len(t, commands, rows, "each row has its command")
	for _, c := range commands {
		source := ""
		files, err := filepath.Glob(filepath.Join(c[1], "*_test.go"))
		require.NoError(t, err)
		for _, f := range files {
			text, err := os.ReadFile(f)
			require.NoError(t, err)
			source += string(text)
		}
		for name := range strings.SplitSeq(c[2], `\|`) {
			assert.True(t, strings.Contains(source, "func "+name+"("), "%s has no test %s", c[1], name)
		}
	}
}
