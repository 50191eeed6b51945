package command_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/command"
)

func TestTheVersionIsAFlagToo(t *testing.T) {
	flag, word := direct(t, "--version"), direct(t, "version")
	require.Zero(t, flag.code, flag.stderr)
	assert.Equal(t, word.stdout, flag.stdout)
	contains(t, flag.stdout, "rootward ", "API")
}

// The file that a flag names is told, not the one it is written to until it is complete.
func TestAResultThatCannotBeWrittenIsNamed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "none", "x.csv")
	got := rootward(t, "prescribe", demo, "--date", "2026-08-10", "--out-csv", path)
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, path+" cannot be written: no such file or directory")
	assert.NotContains(t, got.stderr, ".part")
}

func TestAnInventoryWithoutRowsSaysSo(t *testing.T) {
	text, err := os.ReadFile(demo)
	require.NoError(t, err)
	header, _, _ := strings.Cut(string(text), "\n")
	path := filepath.Join(t.TempDir(), "none.csv")
	require.NoError(t, os.WriteFile(path, []byte(header+"\n"), 0o600))
	got := rootward(t, "prescribe", path, "--date", "2026-08-10")
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "The inventory has no rows: nothing is prescribed.")
}

// gone is where somebody read who has gone away.
type gone struct{}

func (gone) Write([]byte) (int, error) {
	return 0, &os.PathError{Op: "write", Path: "/dev/stdout", Err: syscall.EPIPE}
}

func TestAReaderWhoIsGoneIsNotTold(t *testing.T) {
	var stderr strings.Builder
	assert.Equal(t, 1, command.Run(t.Context(), []string{"columns"}, gone{}, &stderr))
	assert.Empty(t, stderr.String())
	assert.Equal(t, "rootward: another\n", command.Complaint(errors.Join(fmt.Errorf("columns: %w", syscall.EPIPE), errors.New("another"))))
}
