//go:build linux

package rulehost_test

import (
	"context"
	"fmt"
	"maps"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/rulehost"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// contained are the acts that are not refused but bounded, with what the host says of
// a plugin that does them. "" is a plugin that is none the worse.
var contained = map[string]string{
	"exhausts-the-heap":   "did not start", // it ends by itself
	"exhausts-threads":    "256 are allowed",
	"exhausts-processors": "did not start",
	"fills-with-files":    "wrote more than 64 files",
	"floods-stderr":       "did not start",
	"floods-stdout":       "did not start",
	"stops-itself":        "did not start",
	"outlives-its-host":   "did not start",
	"replies-hugely":      "larger than the 4194304 bytes",
	"replies-never":       "did not give its table within",
	"replies-slowly":      "did not give its table within",
	"replies-endlessly":   "did not compile its table",
}

// hostileProgram is the hostile plugin, compiled once.
var hostileProgram = sync.OnceValues(func() (string, error) {
	path := filepath.Join(built, "hostile")
	cmd := exec.Command("go", "build", "-o", path, "./plugins/hostile")
	cmd.Dir = filepath.Join("..", "..")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("building the hostile plugin: %w\n%s", err, out)
	}
	return path, nil
})

// hostile makes a folder in which the hostile plugin lies under the names of acts,
// beside the law of the state.
func hostile(t *testing.T, acts ...string) string {
	t.Helper()
	program, err := hostileProgram()
	require.NoError(t, err)
	dir := folder(t, "federal", "velmora")
	for _, act := range acts {
		require.NoError(t, os.Link(program, filepath.Join(dir, act)))
	}
	return dir
}

// refusedActs are all that the hostile plugin knows, but those that are contained.
func refusedActs(t *testing.T) []string {
	t.Helper()
	program, err := hostileProgram()
	require.NoError(t, err)
	out, err := exec.Command(program, "--list").Output()
	require.NoError(t, err)
	return slices.DeleteFunc(strings.Fields(string(out)), func(act string) bool {
		_, ok := contained[act]
		return ok
	})
}

// listen opens what the acts aim at: sockets of the host, one with a file and one
// without.
func listen(t *testing.T, dir string) {
	t.Helper()
	for _, address := range []string{filepath.Join(filepath.Dir(dir), "host.sock"), fmt.Sprintf("@rootward-hostile-%d", os.Getpid())} {
		l, err := net.Listen("unix", address)
		require.NoError(t, err)
		t.Cleanup(func() { _ = l.Close() })
	}
}

// ownTemporary gives the host a temporary folder that nobody else uses.
func ownTemporary(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("/tmp", "e") // short: sockets lie in it
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	t.Setenv("TMPDIR", dir)
	return dir
}

// assertNothingLeft sees that no process of the folder's plugins runs, and that no
// file of theirs is there.
func assertNothingLeft(t *testing.T, dir, temporary string) {
	t.Helper()
	running := func() (list []string) {
		links, _ := filepath.Glob("/proc/[0-9]*/exe")
		for _, link := range links {
			if program, err := os.Readlink(link); err == nil && strings.HasPrefix(program, dir) {
				list = append(list, link+" "+program)
			}
		}
		return list
	}
	assert.Eventually(t, func() bool { return len(running()) == 0 }, soon, 10*time.Millisecond, "%v", running())
	left, err := filepath.Glob(filepath.Join(temporary, "rootward-*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestEscapes(t *testing.T) {
	temporary, acts := ownTemporary(t), refusedActs(t)
	if testing.Short() {
		acts = acts[:30]
	}
	dir := hostile(t, acts...)
	listen(t, dir)
	t.Setenv("ROOTWARD_TEST_SECRET", "open sesame")
	before := entries(t, dir)
	var log journal
	host := rulehost.New(atOwnDesk(rulehost.Config{Log: log.logger(), StartTimeout: 2 * time.Minute, CompileTimeout: time.Minute}))
	require.NoError(t, host.Load(t.Context(), dir))
	host.Close()

	assert.Greater(t, len(acts), 24)
	for _, act := range acts {
		assert.Contains(t, log.String(), `"line":"`+act+`: DENIED `)
	}
	assert.NotContains(t, log.String(), ": DONE")
	assert.Empty(t, host.Catalog().NotLoaded, "each then serves its table, and is none the worse")
	assert.Equal(t, before, entries(t, dir), "the folder of rules is as it was")
	assertNothingLeft(t, dir, temporary)
}

// entries gives the names in a folder in order.
func entries(t *testing.T, dir string) (list []string) {
	t.Helper()
	found, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range found {
		list = append(list, e.Name())
	}
	return list
}

func TestWhatIsNotRefusedIsContained(t *testing.T) {
	temporary := ownTemporary(t)
	dir := hostile(t, slices.Sorted(maps.Keys(contained))...)
	var log journal
	host := rulehost.New(atOwnDesk(rulehost.Config{
		Log: log.logger(), StartTimeout: 20 * time.Second, CompileTimeout: 5 * time.Second, StopTimeout: time.Second,
	}))
	require.NoError(t, host.Load(t.Context(), dir))
	host.Close()

	problems := notLoaded(host.Catalog())
	for act, want := range contained {
		assert.Contains(t, problems[act], want, act)
	}
	assert.ElementsMatch(t, []string{"federal", "velmora"}, ids(host.Catalog()))
	assert.Less(t, len(log.String()), 4<<20, "the log")
	assertNothingLeft(t, dir, temporary)
}

// greedy are the acts that take what the server needs too.
var greedy = []string{
	"exhausts-processors", "exhausts-memory", "exhausts-the-heap", "exhausts-threads", "fills-with-files", "floods-stderr",
}

// One answer is so many decisions, some of a millisecond.
const decisionsPerAnswer = 500

// answer decides as a server does that works on an inventory, and gives how long it
// took.
func answer(t *testing.T, c *rulehost.Catalog) time.Duration {
	from := time.Now()
	g := c.Govern("us/velmora", demoDay)
	site := atStream(20 * quantity.Foot)
	for range decisionsPerAnswer {
		if d := g.Narrow(leaves()).Decide(site); d != rules.Conditional {
			t.Errorf("decides %s", d)
		}
	}
	return time.Since(from)
}

// latency is the middle and the 99th of 100 times in order.
type latency struct{ p50, p99 time.Duration }

// answers answers 300 times (30 with -short), and on until told to stop.
func answers(t *testing.T, c *rulehost.Catalog, until func() bool) latency {
	wanted := 300
	if testing.Short() {
		wanted = 30
	}
	var list []time.Duration
	for len(list) < wanted || !until() {
		list = append(list, answer(t, c))
		time.Sleep(time.Millisecond) // as requests come in
	}
	slices.Sort(list)
	return latency{list[len(list)/2], list[len(list)*99/100]}
}

// Another rule set goes on answering while hostile plugins take what they can get.
// How fast is printed, and judged only where ROOTWARD_STRICT_TIMING=1 says that the
// machine does nothing else: the 99th of 100 answers then takes at most twice what it
// takes otherwise, by the middle of several rounds.
func TestOthersGoOnAnswering(t *testing.T) {
	temporary := ownTemporary(t)
	law := load(t, folder(t, "federal", "velmora"))
	dir := hostile(t, greedy...)
	var idle, hostile []time.Duration
	rounds := 5
	if testing.Short() {
		rounds = 1
	}
	for round := range rounds {
		quiet := answers(t, law, func() bool { return true })
		host := rulehost.New(atOwnDesk(rulehost.Config{Log: zerolog.Nop(), StartTimeout: 3 * time.Second, StopTimeout: time.Second}))
		ctx, cancel := context.WithTimeout(t.Context(), soon)
		loaded := make(chan error, 1)
		go func() {
			loaded <- host.Load(ctx, dir)
			cancel()
		}()
		busy := answers(t, law, func() bool { return ctx.Err() != nil })
		require.NoError(t, <-loaded)
		host.Close()
		t.Logf("round %d: idle p50 %s p99 %s; with hostile plugins p50 %s p99 %s", round, quiet.p50, quiet.p99, busy.p50, busy.p99)
		idle, hostile = append(idle, quiet.p99), append(hostile, busy.p99)
	}
	slices.Sort(idle)
	slices.Sort(hostile)
	t.Logf("p99 in the middle of %d rounds: idle %s, with hostile plugins %s", rounds, idle[rounds/2], hostile[rounds/2])
	if os.Getenv("ROOTWARD_STRICT_TIMING") == "1" {
		assert.LessOrEqual(t, hostile[rounds/2], 2*idle[rounds/2])
	}
	assertNothingLeft(t, dir, temporary)
}
