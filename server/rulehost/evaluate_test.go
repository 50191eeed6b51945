package rulehost_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/rulehost"
)

// clock is a clock that only a test moves.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// mountains is a host with one plugin that computes rows, and a clock.
type mountains struct {
	*rulehost.Host
	*clock
	log *journal
	dir string
}

func hostOf(t testing.TB, plugin string, change func(*rulehost.Config)) *mountains {
	t.Helper()
	m := &mountains{clock: &clock{now: time.Date(2026, 8, 10, 12, 0, 0, 0, time.UTC)}, log: &journal{}, dir: folder(t, plugin)}
	c := rulehost.Config{
		Log: m.log.logger(), StopTimeout: time.Second, Now: m.Now,
		Running: rulehost.Running{EvaluateTimeout: 20 * time.Second, Chance: func() float64 { return 0.5 }},
	}
	if change != nil {
		change(&c)
	}
	m.Host = rulehost.New(atOwnDesk(c))
	t.Cleanup(m.Close)
	require.NoError(t, m.Load(t.Context(), m.dir))
	require.Empty(t, m.Catalog().NotLoaded)
	return m
}

func at(metres int) rules.SiteFacts {
	return rules.SiteFacts{HasElevation: true, Elevation: quantity.Micrometres(metres) * quantity.Metre}
}

// said gives what each computed row says at each site, as "row: finding".
func (m *mountains) said(t *testing.T, ctx context.Context, on civil.Date, sites ...rules.SiteFacts) []string {
	t.Helper()
	scope := m.Catalog().Sets[0].Table.Manifest.Scope
	g := rules.Govern(scope, on, m.Catalog().Sets)
	var list []string
	for _, law := range m.Compute(ctx, g, sites) {
		var words []string
		for _, f := range law.Narrow(leaves()).Explain(&rules.Surroundings{}) {
			words = append(words, fmt.Sprintf("%s %s %s", f.Row.ID, f.Decision, strings.Join(f.Missing, "")))
		}
		list = append(list, strings.TrimSpace(strings.Join(words, "; ")))
	}
	return list
}

func (m *mountains) status(t testing.TB) rulehost.RunningStatus {
	t.Helper()
	list := rulehost.StatusOf(m.Host)
	require.Len(t, list, 1)
	return list[0]
}

// calls is how often the plugin was asked.
func (m *mountains) calls() int { return strings.Count(m.log.String(), "computes") }

const bothOpen = "summits ALLOWED ; valleys ALLOWED"

func TestComputedRowsOpenAndClose(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	assert.Equal(t, rulehost.Idle, m.status(t).State, "it is started when it is needed")
	assert.Equal(t, []string{bothOpen, bothOpen}, m.said(t, t.Context(), demoDay, at(500), at(1_500)))
	assert.Equal(t, []string{"summits PROHIBITED ; valleys PROHIBITED"}, m.said(t, t.Context(), civil.Of(2026, 10, 1), at(500)))
	st := m.status(t)
	assert.Equal(t, rulehost.Alive, st.State)
	assert.Equal(t, 1, st.Starts, "it is kept running")
	assert.Equal(t, "hook-sound", st.File)
	assert.Equal(t, "hook-sound", st.RuleSetID)
}

func TestASiteThatLacksAFactIsUndetermined(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	got := m.said(t, t.Context(), demoDay, rules.SiteFacts{}, at(500))
	assert.Contains(t, got[0], "summits UNDETERMINED not known of the site: elevation; state it")
	assert.Equal(t, bothOpen, got[1])
}

func TestIdenticalSitesAreAskedOnce(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	sites := []rules.SiteFacts{at(500), at(600), at(500), {HasElevation: true, Elevation: 600 * quantity.Metre, HasPosition: true, Latitude: 5}}
	m.said(t, t.Context(), demoDay, sites...)
	logged := func(text string) func() bool {
		return func() bool { return strings.Contains(m.log.String(), text) }
	}
	assert.Eventually(t, logged("computes valleys at 2"), soon, time.Millisecond, "a position is not needed, so it makes no other site")
	g := rules.Govern(m.Catalog().Sets[0].Table.Manifest.Scope, demoDay, m.Catalog().Sets)
	laws := m.Compute(t.Context(), g, sites)
	assert.Same(t, laws[0], laws[1], "equal answers share one law")
	m.said(t, t.Context(), demoDay, at(700))
	assert.Eventually(t, logged("computes valleys at 1"), soon, time.Millisecond)
	assert.Equal(t, 4, m.calls(), "once a row for the first two, once a row for the third: %s", m.log)
	m.said(t, t.Context(), demoDay+1, at(700))
	assert.Eventually(t, func() bool { return m.calls() == 6 }, soon, time.Millisecond, "another day is another question")
}

func TestTheCacheIsBounded(t *testing.T) {
	m := hostOf(t, "hook-sound", func(c *rulehost.Config) { c.Running.Cached = 2 })
	for _, height := range []int{500, 600, 500} {
		m.said(t, t.Context(), demoDay, at(height))
	}
	assert.Eventually(t, func() bool { return m.calls() == 6 }, soon, time.Millisecond, "two rows fill it: %s", m.log)
}

// More sites than one question holds are asked in several.
func TestManySitesAreAskedInChunks(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	sites := make([]rules.SiteFacts, 40_000)
	for i := range sites {
		sites[i] = rules.SiteFacts{HasElevation: true, Elevation: quantity.Micrometres(i) * quantity.Centimetre}
	}
	for _, s := range m.said(t, t.Context(), demoDay, sites...) {
		require.Equal(t, bothOpen, s)
	}
	for _, n := range []string{"at 4096", "at 3136"} {
		assert.Eventually(t, func() bool { return strings.Contains(m.log.String(), n) }, soon, time.Millisecond)
	}
}

// Each fault closes nothing but its own row, says so, and is not kept: when the
// plugin is tried again, what it then can answer it does.
func TestAFailureLeavesItsRowAloneUndetermined(t *testing.T) {
	cases := map[string]string{
		"hook-panics":  "computing row summits panicked: on the summit",
		"hook-crashes": "its process ended",
		"hook-hangs":   "did not answer within 3s",
		"hook-stops":   "did not answer within 3s",
		"hook-garbled": "which are no days of a year",
		"hook-floods":  "larger than the 4194304 bytes",
	}
	for plugin, want := range cases {
		t.Run(plugin, func(t *testing.T) {
			t.Parallel()
			m := hostOf(t, plugin, func(c *rulehost.Config) { c.Running.EvaluateTimeout = 3 * time.Second })
			assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(500)))
			got := m.said(t, t.Context(), demoDay, at(1_500))[0]
			assert.Contains(t, got, "summits UNDETERMINED rule plugin of "+plugin+" cannot compute row summits: it failed (")
			assert.Contains(t, got, want)
			assert.Contains(t, got, "tried again from 2026-08-10T12:00:01Z on; run again then")
			assert.Contains(t, got, "; valleys ALLOWED", "the other row is not affected")
			assert.NotContains(t, got, "goroutine")

			st := m.status(t)
			assert.Equal(t, rulehost.BackingOff, st.State)
			assert.Equal(t, 1, st.Failures)
			assert.Equal(t, m.Now().Add(750*time.Millisecond), st.RetryAt, "half of a second, and half of the rest by chance")
			assert.Contains(t, m.said(t, t.Context(), demoDay, at(500))[0], bothOpen, "what was answered is kept")
			assert.Contains(t, m.said(t, t.Context(), demoDay, at(700))[0], "summits UNDETERMINED", "it is not asked anew meanwhile")
			m.pass(time.Second)
			assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(700)), "it is asked again then")
			st = m.status(t)
			assert.Equal(t, rulehost.Alive, st.State)
			assert.Zero(t, st.Failures)
			assert.Empty(t, st.Problem)
		})
	}
}

func TestAPluginThatFailsOftenIsLeftAlone(t *testing.T) {
	m := hostOf(t, "hook-panics", func(c *rulehost.Config) { c.Running.Quarantine = 3 })
	for i := range 3 {
		assert.Equal(t, i, m.status(t).Failures)
		m.said(t, t.Context(), demoDay, at(1_500))
		m.pass(time.Hour)
	}
	st := m.status(t)
	assert.Equal(t, rulehost.Quarantined, st.State)
	assert.Zero(t, st.RetryAt)
	assert.Contains(t, st.Problem, "on the summit")
	got := m.said(t, t.Context(), demoDay, at(500))[0]
	assert.Contains(t, got, "summits UNDETERMINED rule plugin of hook-panics cannot compute row summits: it failed too often")
	assert.Contains(t, got, "left alone until the operator has the folder of rule plugins looked into again")
	assert.Contains(t, got, "valleys ALLOWED")

	require.NoError(t, m.Load(t.Context(), m.dir))
	assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(500)))
	assert.Equal(t, rulehost.Alive, m.status(t).State)
}

// The times between attempts double up to a limit.
func TestBackingOff(t *testing.T) {
	m := hostOf(t, "hook-crashes", func(c *rulehost.Config) {
		c.Running.Quarantine, c.Running.FirstRetry, c.Running.LastRetry = 100, 4*time.Second, 20*time.Second
	})
	for _, want := range []time.Duration{3, 6, 12, 15, 15} {
		m.said(t, t.Context(), demoDay, at(1_500))
		st := m.status(t)
		require.Equal(t, rulehost.BackingOff, st.State)
		assert.Equal(t, want*time.Second, st.RetryAt.Sub(m.Now()))
		m.pass(want * time.Second)
	}
}

// That a process has ended is known only some time later, and go-plugin gives a
// client for one that is dead: who asks next does not suffer for it.
func TestAPluginThatEndedIsStartedAgain(t *testing.T) {
	m := hostOf(t, "hook-dies-idle", nil)
	for range 3 {
		assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(1_500+m.status(t).Starts)))
		starts := m.status(t).Starts
		require.Eventually(t, func() bool { return m.status(t).State != rulehost.Alive }, soon, time.Millisecond)
		assert.Equal(t, starts, m.status(t).Starts)
	}
	assert.GreaterOrEqual(t, m.status(t).Starts, 3)
	assert.Zero(t, m.status(t).Failures)
}

func TestWhatAPluginWritesWhileItRunsIsBounded(t *testing.T) {
	// Its 5 MB are read at 256 kB a second.
	m := hostOf(t, "hook-chatters", func(c *rulehost.Config) { c.Running.EvaluateTimeout = 2 * time.Minute })
	assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(1_500)), "the line {\"@message\":1} ends no host")
	assert.Eventually(t, func() bool {
		lines := m.status(t).LastLines
		return len(lines) == 20 && strings.Contains(strings.Join(lines, "\n"), "\uFFFD[2Jthe last line")
	}, soon, time.Millisecond)
	for _, line := range m.status(t).LastLines {
		assert.LessOrEqual(t, len(line), 510)
		assert.NotContains(t, line, "\x1b")
	}
	assert.Less(t, len(m.log.String()), 400_000)
}

func TestAPluginThatFillsItsFolderIsKilledAndLeftAlone(t *testing.T) {
	m := hostOf(t, "hook-fills", nil)
	got := m.said(t, t.Context(), demoDay, at(1_500))[0]
	st := m.status(t)
	assert.Equal(t, rulehost.Quarantined, st.State, "%+v", st)
	assert.Contains(t, got, "wrote more than 64 files or 1048576 bytes into the folder of its socket")
}

// A request that ends does not wait for the plugin, and what the plugin then answers
// serves the next.
func TestARequestThatEndsDoesNotWait(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	got := m.said(t, ctx, demoDay, at(500))[0]
	if got != bothOpen {
		assert.Contains(t, got, "the request ended before it had answered; run again")
	}
	assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(500)))
	assert.Zero(t, m.status(t).Failures)
}

func TestManyAskAtOnce(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	var all sync.WaitGroup
	for i := range 16 {
		all.Go(func() {
			for j := range 5 {
				assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(100+(i+j)%8)))
			}
		})
	}
	all.Wait()
	assert.Equal(t, 1, m.status(t).Starts)
	assert.LessOrEqual(t, m.calls(), 16, "8 sites, two rows, each asked once")
}

func TestAPluginThatIsTakenAwayEnds(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	set := m.Catalog().Sets
	assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(500)))
	require.Eventually(t, func() bool { return m.calls() > 0 }, soon, time.Millisecond)
	process := toldProcess(t, m.log.String())
	require.DirExists(t, "/proc/"+process)
	require.NoError(t, m.Load(t.Context(), folder(t, "federal")))
	assertEnds(t, process)
	assert.Empty(t, rulehost.StatusOf(m.Host))

	law := m.Compute(t.Context(), rules.Govern(set[0].Table.Manifest.Scope, demoDay, set), []rules.SiteFacts{at(500), at(501)})
	findings := law[1].Narrow(leaves()).Explain(&rules.Surroundings{})
	assert.Contains(t, findings[0].Missing[0], "taken out of use; run again")
}

// shortFolder is a temporary folder with a name short enough for sockets below it.
func shortFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("/tmp", "rw")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// socketFolders lists the folders of servers, and go-plugin's own, in the temporary
// folder.
func socketFolders(t *testing.T) []string {
	t.Helper()
	ours, err := filepath.Glob(filepath.Join(os.TempDir(), "rootward-*"))
	require.NoError(t, err)
	others, err := filepath.Glob(filepath.Join(os.TempDir(), "plugin*"))
	require.NoError(t, err)
	return slices.Concat(ours, others)
}

// toldProcess gives the process id that a plugin wrote last.
func toldProcess(t *testing.T, log string) string {
	t.Helper()
	all := regexp.MustCompile(`process (\d+) computes`).FindAllStringSubmatch(log, -1)
	require.NotEmpty(t, all, log)
	return all[len(all)-1][1]
}

// The kernel ends a plugin with the thread that started it, which is not that of who
// asked first.
func TestAPluginOutlivesTheThreadOfWhoAskedFirst(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	var asked sync.WaitGroup
	asked.Go(func() {
		runtime.LockOSThread() // and so the thread ends with the goroutine
		assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(500)))
	})
	asked.Wait()
	assert.Never(t, func() bool { return m.status(t).State != rulehost.Alive }, 300*time.Millisecond, 10*time.Millisecond)
	assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(600)))
	assert.Equal(t, 1, m.status(t).Starts)
}

// A host that is closed leaves neither process nor folder.
func TestCloseEndsWhatRuns(t *testing.T) {
	t.Setenv("TMPDIR", shortFolder(t))
	m := hostOf(t, "hook-sound", nil)
	assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(500)))
	assert.Len(t, socketFolders(t), 1, "one folder a server")
	m.Close()
	assert.Empty(t, socketFolders(t))
	assert.Contains(t, m.said(t, t.Context(), demoDay, at(501))[0], "summits UNDETERMINED")
}
