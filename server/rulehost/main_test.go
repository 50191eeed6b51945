package rulehost_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"example.org/rootward/server/rulehost"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/require"
)

// built holds the plugins that the tests load, compiled once.
var built string

func TestMain(m *testing.M) {
	if len(os.Args) == 3 && os.Args[1] == hostToKill {
		loadUntilKilled(os.Args[2])
	}
	if len(os.Args) == 3 && os.Args[1] == computingHost {
		computeUntilKilled(os.Args[2])
	}
	os.Exit(runTests(m))
}

func runTests(m *testing.M) int {
	// Folders of plugins link to these files, so that both lie on one file system.
	dir, err := os.MkdirTemp("", "rulehost-test-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	built = dir
	cmd := exec.Command("go", "build", "-o", dir,
		"./plugins/faulty", "./plugins/federal", "./plugins/velmora", "./plugins/editions/velmora-2027", "./plugins/ossel-creek", "./plugins/high-tarn")
	cmd.Dir = filepath.Join("..", "..")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0") // confined, they load no library
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0") // a confined plugin reads no libraries
	if out, err := cmd.CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "building plugins: %s\n%s", err, out)
		return 1
	}
	return m.Run()
}

// folder makes a plugins folder with the named rule sets; other names are faults
// of the faulty plugin.
func folder(t testing.TB, names ...string) string {
	t.Helper()
	dir := t.TempDir()
	for _, name := range names {
		install(t, dir, name)
	}
	return dir
}

func install(t testing.TB, dir, name string) {
	t.Helper()
	source := filepath.Join(built, name)
	if _, err := os.Stat(source); err != nil {
		source = filepath.Join(built, "faulty")
	}
	require.NoError(t, os.Link(source, filepath.Join(dir, name)))
}

// load loads a folder with patient limits, which a busy machine keeps.
func load(t *testing.T, dir string) *rulehost.Catalog {
	t.Helper()
	host := rulehost.New(atOwnDesk(rulehost.Config{}))
	require.NoError(t, host.Load(t.Context(), dir))
	return host.Catalog()
}

// notLoaded gives the problems of a catalog by plugin.
func notLoaded(c *rulehost.Catalog) map[string]string {
	problems := map[string]string{}
	for _, f := range c.NotLoaded {
		problems[f.Where] = f.Problem
	}
	return problems
}

func ids(c *rulehost.Catalog) []string {
	var list []string
	for _, s := range c.Sets {
		list = append(list, s.Ref.ID)
	}
	return list
}

// journal is a log that several goroutines write.
type journal struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (j *journal) Write(b []byte) (int, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.text.Write(b)
}

func (j *journal) String() string {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.text.String()
}

func (j *journal) logger() zerolog.Logger { return zerolog.New(j).Level(zerolog.DebugLevel) }

// atOwnDesk is the host of an author, who runs what nobody has signed.
func atOwnDesk(c rulehost.Config) rulehost.Config {
	c.Unsigned = []string{"all"}
	return c
}
