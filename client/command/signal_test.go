package command_test

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// processesOf finds processes that were told to listen below a folder.
func processesOf(folder string) []string {
	files, _ := filepath.Glob("/proc/[0-9]*/cmdline")
	var found []string
	for _, file := range files {
		if line, err := os.ReadFile(file); err == nil && strings.Contains(string(line), "unix:"+folder) {
			found = append(found, strings.ReplaceAll(string(line), "\x00", " "))
		}
	}
	return found
}

// busy starts the real program on a file that never ends, and gives it when its
// server runs: the inventory is a named pipe of which only the beginning comes.
func busy(t *testing.T, folder string) (*exec.Cmd, *strings.Builder) {
	t.Helper()
	pipe := filepath.Join(t.TempDir(), "inventory.csv")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	result := filepath.Join(t.TempDir(), "result.csv")
	c := exec.Command(filepath.Join(bin, "rootward"), "prescribe", pipe, "--date", "2026-08-10", "--out-csv", result)
	c.Env = append(os.Environ(), "TMPDIR="+folder)
	var stderr strings.Builder
	c.Stderr = &stderr
	require.NoError(t, c.Start())
	t.Cleanup(func() { c.Process.Kill() }) // no-op when it has ended
	// The program reads the header, starts its server, and then waits for rows.
	file, err := os.OpenFile(pipe, os.O_WRONLY, 0)
	require.NoError(t, err)
	t.Cleanup(func() { file.Close() })
	w := bufio.NewWriter(file)
	fmt.Fprintln(w, "occurrenceID,scientificName,locationID,place,site_area_ac,form,dbh_in")
	require.NoError(t, w.Flush())
	require.Eventually(t, func() bool { return len(processesOf(folder)) == 1 }, 30*time.Second, 5*time.Millisecond)
	return c, &stderr
}

func TestAnInterruptedCommandLeavesNothingBehind(t *testing.T) {
	for _, signal := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP} {
		t.Run(signal.String(), func(t *testing.T) {
			folder := shortFolder(t)
			c, stderr := busy(t, folder)
			require.NoError(t, c.Process.Signal(signal))
			err := c.Wait()
			assert.Equal(t, 1, c.ProcessState.ExitCode(), err)
			assert.Contains(t, stderr.String(), "interrupted")
			left, err := os.ReadDir(folder)
			require.NoError(t, err)
			assert.Empty(t, left)
			assert.Empty(t, processesOf(folder))
		})
	}
}

func TestTheServerOfAKilledCommandEndsByItself(t *testing.T) {
	folder := shortFolder(t)
	c, _ := busy(t, folder)
	require.NoError(t, c.Process.Kill())
	require.Error(t, c.Wait())
	// Nobody can wait for another's child, so it is looked for.
	assert.Eventually(t, func() bool { return len(processesOf(folder)) == 0 }, 30*time.Second, 20*time.Millisecond)
}

func TestAReaderThatGoesAwayLeavesNothingBehind(t *testing.T) {
	folder := shortFolder(t)
	c := exec.Command(filepath.Join(bin, "rootward"), "catalogue")
	c.Env = append(os.Environ(), "TMPDIR="+folder)
	read, write, err := os.Pipe()
	require.NoError(t, err)
	require.NoError(t, read.Close())
	c.Stdout = write
	require.Error(t, c.Run())
	require.NoError(t, write.Close())
	assert.Equal(t, 1, c.ProcessState.ExitCode())
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
	assert.Empty(t, processesOf(folder))
}
