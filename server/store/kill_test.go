package store_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/batch"
	"example.org/rootward/server/store"
	"example.org/rootward/server/store/postgrestest"
)

// life is what a server that is to be killed does: it takes up a batch wherever the
// server before it was killed, be it at the upload, and says its digest at the end.
type life struct {
	Folder, Database string
	Chunks           int64
	Rounds           int
	Deadly           bool   // it ends at its first answer
	Key              string // it writes a log that is signed with this, until it is killed
}

// request asks for two passes.
var request = spec{Passes: 2}

const lifeVariable = "ROOTWARD_TEST_LIFE"

func TestMain(m *testing.M) {
	text := os.Getenv(lifeVariable)
	if text == "" {
		os.Exit(m.Run())
	}
	var l life
	err := json.Unmarshal([]byte(text), &l)
	if err == nil {
		err = l.live(context.Background())
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func (l life) live(ctx context.Context) error {
	log := zerolog.New(os.Stderr)
	s, err := store.Open(ctx, store.Config{Folder: l.Folder, Database: l.Database, Log: log})
	if err != nil {
		return err
	}
	if l.Key != "" {
		return l.write(ctx, s)
	}
	h := &hasher{rounds: l.Rounds}
	if l.Deadly {
		h.gate = func() { os.Exit(3) }
	}
	e, err := batch.Open(ctx, batch.Config{Store: s, Evaluator: h, Log: log, Workers: 2})
	if err != nil {
		return err
	}
	b, err := l.upload(ctx, e)
	if err != nil {
		return err
	}
	fmt.Println("started", b.ID)
	for b, err = range e.Watch(ctx, b.ID) {
		if err != nil {
			return err
		}
		fmt.Println("decided", b.Decided)
	}
	fmt.Println("ended", b.ID)
	if err := e.Close(ctx); err != nil {
		return err
	}
	return s.Close()
}

func (l life) upload(ctx context.Context, e *batch.Engine) (*batch.Batch, error) {
	b, err := e.Create(ctx, "the batch", "", request.bytes())
	if err != nil {
		return nil, err
	}
	a := e.Ahead(ctx, b.ID)
	for i := b.NextChunk; err == nil && i < l.Chunks; {
		c := rows(i)
		c.Ahead = func() *batch.Ahead { return a }
		i, err = e.Put(ctx, b.ID, c)
	}
	a.Close()
	if err != nil {
		return nil, err
	}
	return e.Start(ctx, b.ID, l.Chunks, l.Chunks*10)
}

// child is a life in a process of its own.
type child struct {
	*exec.Cmd
	says *bufio.Scanner
	log  bytes.Buffer
}

func (l life) begin(t *testing.T) *child {
	t.Helper()
	text, err := json.Marshal(l)
	require.NoError(t, err)
	self, err := os.Executable()
	require.NoError(t, err)
	c := &child{Cmd: exec.Command(self)}
	c.Env = append(os.Environ(), lifeVariable+"="+string(text))
	c.Stderr = &c.log
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	c.says = bufio.NewScanner(out)
	require.NoError(t, c.Start())
	t.Cleanup(func() { c.kill() })
	return c
}

// kill ends the process without a warning, and reports whether it has not ended by itself.
func (c *child) kill() bool {
	_ = c.Process.Kill()
	_ = c.Wait()
	return c.ProcessState.ExitCode() < 0
}

// until gives what follows a word, once the child says it.
func (c *child) until(t *testing.T, word string) string {
	t.Helper()
	for c.says.Scan() {
		if rest, ok := strings.CutPrefix(c.says.Text(), word+" "); ok {
			return rest
		}
	}
	require.FailNow(t, "the server ended", "%s", &c.log)
	return ""
}

// ends waits until the child ends in order, and gives the batch's id.
func (c *child) ends(t *testing.T) string {
	t.Helper()
	id := c.until(t, "ended")
	require.NoError(t, c.Wait(), "%s", &c.log)
	return id
}

// rescues is how often the child took up jobs that another left.
func (c *child) rescues() int { return strings.Count(c.log.String(), "of a server that is gone") }

// killed starts and kills servers over one batch so many times, at moments that are
// drawn with the seed, and lets a last one end it.
func (l life) killed(t *testing.T, kills int, seed uint64) {
	random := rand.New(rand.NewPCG(seed, 0))
	rescues := 0
	begin := time.Now()
	for i := range kills {
		c := l.begin(t)
		within := 150 * time.Millisecond // from its start
		if i%2 == 1 {
			c.until(t, "started")
			within = 80 * time.Millisecond
		}
		time.Sleep(time.Duration(random.Int64N(int64(within))))
		require.True(t, c.kill(), "the batch ended before the last kill: give it more to do\n%s", &c.log)
		rescues += c.rescues()
	}
	killing := time.Since(begin)
	last := l.begin(t)
	id := last.ends(t)
	t.Logf("%d kills in %s, %d rescues; ended after %s", kills, killing.Round(time.Millisecond), rescues+last.rescues(),
		(time.Since(begin) - killing).Round(time.Millisecond))
	l.check(t, id)
}

// check holds the batch to what an undisturbed one gives.
func (l life) check(t *testing.T, id string) {
	t.Helper()
	want := newFixture(t, store.Config{Folder: t.TempDir()})
	undisturbed := want.succeeded(want.started("undisturbed", request, l.Chunks).ID)

	f := newFixture(t, store.Config{Folder: l.Folder, Database: l.Database})
	b, err := f.engine.Get(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, batch.Succeeded, b.State)
	assert.Equal(t, undisturbed.ResultDigest, b.ResultDigest)
	assert.Equal(t, undisturbed.Summary, b.Summary)
	assert.Equal(t, undisturbed.Counts, b.Counts)
	assert.Equal(t, undisturbed.Decided, b.Decided)
	assert.Equal(t, want.results(undisturbed.ID, -1), f.results(id, -1), "every chunk, once")
}

// killsWanted is how many kills a test makes: a few, unless the environment says more.
func killsWanted(t *testing.T) int {
	text := os.Getenv("ROOTWARD_TEST_KILLS")
	if text == "" {
		return 4
	}
	n, err := strconv.Atoi(text)
	require.NoError(t, err)
	return n
}

// lasting is a batch that lasts longer than so many kills do.
func lasting(kills int) life { return life{Chunks: int64(20 + 6*kills), Rounds: 100_000} }

func TestKilledOnSQLite(t *testing.T) {
	n := killsWanted(t)
	l := lasting(n)
	l.Folder = t.TempDir()
	l.killed(t, n, 1)
}

func TestKilledOnPostgres(t *testing.T) {
	n := killsWanted(t)
	l := lasting(n)
	l.Database = postgrestest.Start(t).Database(t)
	l.killed(t, n, 2)
}

// A batch that kills its servers does not do so for ever.
func TestKilledByABatch(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a hundred servers")
	}
	l := life{Folder: t.TempDir(), Chunks: 1, Deadly: true}
	lives := 1
	for ; l.dies(t); lives++ {
		require.Less(t, lives, 150)
	}
	f := newFixture(t, store.Config{Folder: l.Folder})
	list, _, err := f.engine.List(t.Context(), 1, "")
	require.NoError(t, err)
	assert.Equal(t, batch.Failed, list[0].State)
	assert.Equal(t, "100 servers ended while they decided chunks 0 to 0", list[0].Problem)
	assert.Equal(t, 102, lives, "with one while it was uploaded")
}

// dies reports whether the server ended before its batch did.
func (l life) dies(t *testing.T) bool {
	c := l.begin(t)
	for c.says.Scan() { // until it ends
	}
	return c.Wait() != nil
}

// One of two servers is killed, or stands still, in the middle of a batch: the other
// ends it soon.
func TestPostgresServerIsKilled(t *testing.T) {
	cluster := postgrestest.Start(t)
	for name, signal := range map[string]syscall.Signal{"killed": syscall.SIGKILL, "standing still": syscall.SIGSTOP} {
		t.Run(name, func(t *testing.T) {
			l := life{Database: cluster.Database(t), Chunks: 120, Rounds: 50_000} // decided once after the start
			one := l.begin(t)
			one.until(t, "started")
			one.until(t, "decided")
			other := l.begin(t)
			other.until(t, "decided")
			require.NoError(t, one.Process.Signal(signal))
			begin := time.Now()
			id := other.ends(t)
			took := time.Since(begin)
			t.Logf("the other ended the batch after %s, with %d rescues", took.Round(time.Millisecond), other.rescues())
			assert.Less(t, took, 30*time.Second)
			if signal == syscall.SIGSTOP {
				require.NoError(t, one.Process.Signal(syscall.SIGCONT)) // it keeps nothing twice
				one.until(t, "ended")
			}
			l.check(t, id)
		})
	}
}
