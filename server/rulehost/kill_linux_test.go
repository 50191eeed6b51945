package rulehost_test

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/rulehost"
)

// computingHost makes the test binary a host that computes without end.
const computingHost = "computing-host"

func computeUntilKilled(dir string) {
	host := rulehost.New(atOwnDesk(rulehost.Config{}))
	_ = host.Load(context.Background(), dir)
	fmt.Println("computing")
	for i := 0; ; i++ {
		for _, set := range host.Catalog().Sets {
			g := rules.Govern(set.Table.Manifest.Scope, demoDay, host.Catalog().Sets)
			host.Compute(context.Background(), g, []rules.SiteFacts{{HasElevation: true, Elevation: quantity.Micrometres(i) * quantity.Centimetre}})
		}
	}
}

// A host is killed at any moment: while it describes, compiles, starts, asks or stops
// plugins, one of which sees nothing of its host's end by itself. Then no plugin runs
// on, and of the sockets the next host leaves nothing.
func TestKilledHostsLeaveNothing(t *testing.T) {
	kills := 100
	if testing.Short() {
		kills = 10
	}
	t.Setenv("TMPDIR", shortFolder(t))
	var lanes sync.WaitGroup // a kill is mostly waiting for its moment
	for lane := range 3 {
		chance := rand.New(rand.NewPCG(20260810, uint64(lane)))
		computing, hanging := folder(t, "hook-sound", "federal"), folder(t, "hook-sound", "hangs")
		lanes.Go(func() {
			for i := lane; i < kills; i += 3 {
				moment := time.Duration(chance.Int64N(int64(800 * time.Millisecond)))
				switch i % 4 {
				case 0, 1:
					killAfter(t, computing, moment, true)
				case 2:
					killAfter(t, computing, moment, false)
				case 3:
					killAfter(t, hanging, moment, false)
				}
			}
		})
	}
	lanes.Wait()
	// A host that was killed before it had locked its folder leaves one that could be that of
	// a host that is about to: the next leaves it alone for a minute, which is over here.
	unlocked, err := filepath.Glob(filepath.Join(os.TempDir(), "rootward-new-*"))
	require.NoError(t, err)
	for _, dir := range unlocked {
		past := time.Now().Add(-time.Hour)
		require.NoError(t, os.Chtimes(dir, past, past))
	}
	next := hostOf(t, "hook-sound", nil)
	assert.Equal(t, []string{bothOpen}, next.said(t, t.Context(), demoDay, at(500)))
	assert.Len(t, socketFolders(t), 1, "that of the host that runs")
	next.Close()
	assert.Empty(t, socketFolders(t))
}

// killAfter kills a host so long after it started, or after it began to compute.
func killAfter(t *testing.T, dir string, wait time.Duration, computing bool) {
	t.Helper()
	host := exec.CommandContext(t.Context(), os.Args[0], computingHost, dir)
	out, err := host.StdoutPipe()
	if !assert.NoError(t, err) || !assert.NoError(t, host.Start()) {
		return
	}
	if computing {
		_, err := io.ReadFull(out, make([]byte, len("computing\n")))
		assert.NoError(t, err)
	}
	<-time.After(wait)
	assert.NoError(t, host.Process.Kill())
	_ = host.Wait()
	var left []string
	assert.Eventually(t, func() bool {
		left = pluginsOf(t, dir, host.Process.Pid)
		return len(left) == 0
	}, soon, time.Millisecond, "killed after %s, and these run on: %v", wait, left)
}

// pluginsOf lists the processes that run a file of the folder, and those that a host
// started to become one.
func pluginsOf(t *testing.T, dir string, host int) []string {
	t.Helper()
	processes, err := filepath.Glob("/proc/[0-9]*")
	assert.NoError(t, err)
	var left []string
	for _, p := range processes {
		exe, _ := os.Readlink(filepath.Join(p, "exe")) // a dead one has none
		args, _ := os.ReadFile(filepath.Join(p, "cmdline"))
		if strings.HasPrefix(exe, dir+"/") || exe != "" && strings.Contains(string(args), fmt.Sprintf(`"parent":%d,`, host)) {
			left = append(left, fmt.Sprintf("%s %s", p, exe))
		}
	}
	return left
}
