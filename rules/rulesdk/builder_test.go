package rulesdk_test

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files")

// Each program of testdata/builder comes with what is to become of it (.want: what,
// and words of the message) and with all that is said of it (.golden).
func TestWhatTheBuilderTakes(t *testing.T) {
	programs, err := filepath.Glob("testdata/builder/*.go")
	require.NoError(t, err)
	require.NotEmpty(t, programs)
	for _, program := range programs {
		name := strings.TrimSuffix(program, ".go")
		t.Run(filepath.Base(name), func(t *testing.T) {
			outcome, words, _ := strings.Cut(strings.TrimSpace(read(t, name+".want")), ": ")
			compiled, said := compileAndRun(t, program)
			assert.Equal(t, outcome != "does not compile", compiled, "%s", said)
			assert.Contains(t, said, words)
			if *update {
				require.NoError(t, os.WriteFile(name+".golden", []byte(said), 0o644))
			}
			assert.Equal(t, read(t, name+".golden"), said)
		})
	}
}

func compileAndRun(t *testing.T, program string) (compiled bool, said string) {
	t.Helper()
	binary := filepath.Join(t.TempDir(), "program")
	out, err := exec.CommandContext(t.Context(), "go", "build", "-o", binary, program).CombinedOutput()
	if err != nil {
		return false, strings.ReplaceAll(string(out), filepath.Dir(program)+string(filepath.Separator), "")
	}
	out, err = exec.CommandContext(t.Context(), binary).CombinedOutput()
	require.NoError(t, err, "%s", out)
	return true, string(out)
}

func read(t *testing.T, file string) string {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	return string(text)
}
