package store_test

import (
	"context"
	"encoding/base64"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules/recordlog"
	"example.org/rootward/server/ledger"
	"example.org/rootward/server/store"
	"example.org/rootward/server/store/postgrestest"
)

// writers is how many write the log of one server at once.
const writers = 3

// write appends to the log until it is killed, and says what was confirmed. Each writer
// begins with what it may not have got the answer to.
func (l life) write(ctx context.Context, s *store.Store) error {
	key, err := recordlog.ParseKey(l.Key)
	if err != nil {
		return err
	}
	log, err := ledger.Open(ctx, s, key)
	if err != nil {
		return err
	}
	failed := make(chan error)
	for w := range writers {
		go func() { failed <- writeSite(ctx, log, fmt.Sprintf("sites/%c", 'a'+w)) }()
	}
	return <-failed
}

func writeSite(ctx context.Context, log *ledger.Ledger, site string) error {
	kept, err := log.Site(ctx, site)
	if err != nil {
		return err
	}
	for n := max(0, int64(len(kept))-2); ; n++ {
		d := draft(fmt.Sprintf("%s/records/%d", site, n/2), "record", site)
		if n%2 == 1 {
			d = next(d, 2)
		}
		d.Read = n // nothing is written twice, and nothing is left out
		e, err := log.Append(ctx, d)
		if err != nil {
			return fmt.Errorf("%s %d: %w", site, n, err)
		}
		signed, _, err := log.Checkpoint(ctx)
		if err != nil {
			return err
		}
		line, err := e.Line()
		if err != nil {
			return err
		}
		// One write each: a line that has its end was said in full.
		_, err = os.Stdout.WriteString(fmt.Sprintln("kept", base64.StdEncoding.EncodeToString(line), base64.StdEncoding.EncodeToString(signed), "."))
		if err != nil {
			return err
		}
	}
}

// confirmed is what servers have said before they were killed.
type confirmed struct {
	lines       map[string]bool
	checkpoints map[string]bool
	said        int
}

// hear notes all that a child says until it is killed: so long after its start, or after
// the first that it has confirmed.
func (c *confirmed) hear(t *testing.T, child *child, within time.Duration, started bool) {
	kill := func() { _ = child.Process.Kill() }
	if !started {
		defer time.AfterFunc(within, kill).Stop()
	}
	child.says.Buffer(nil, 1<<20)
	for child.says.Scan() {
		words := strings.Fields(child.says.Text())
		if len(words) != 4 || words[3] != "." {
			continue // it was killed in the middle of it
		}
		if started {
			defer time.AfterFunc(within, kill).Stop()
			started = false
		}
		line, err := base64.StdEncoding.DecodeString(words[1])
		require.NoError(t, err)
		signed, err := base64.StdEncoding.DecodeString(words[2])
		require.NoError(t, err)
		c.lines[string(line)], c.checkpoints[string(signed)] = true, true
		c.said++
	}
	_ = child.Wait()
	require.Negative(t, child.ProcessState.ExitCode(), "it ended by itself: %s", &child.log)
}

// round is how many servers write one log: each reads all of it when it starts.
const round = 50

// killedWriting kills servers that write a log so many times.
func killedWriting(t *testing.T, kills int, seed uint64, where func() life) {
	random := rand.New(rand.NewPCG(seed, 0))
	for done := 0; done < kills; done += round {
		private, err := recordlog.NewKey(nil)
		require.NoError(t, err)
		l := where()
		l.Key = private
		heard := &confirmed{lines: map[string]bool{}, checkpoints: map[string]bool{}}
		for i := range min(round, kills-done) {
			heard.hear(t, l.begin(t), time.Duration(random.Int64N(int64(120*time.Millisecond))), i%2 == 1)
		}
		l.checkLog(t, heard)
	}
}

// checkLog holds the log to all that was confirmed.
func (l life) checkLog(t *testing.T, heard *confirmed) {
	key, err := recordlog.ParseKey(l.Key)
	require.NoError(t, err)
	log, err := ledger.Open(t.Context(), openStore(t, store.Config{Folder: l.Folder, Database: l.Database}), key)
	require.NoError(t, err)
	_, size, err := log.Checkpoint(t.Context())
	require.NoError(t, err)
	there := map[string]int{}
	for e, err := range log.Entries(t.Context(), 0, size) {
		require.NoError(t, err)
		line, err := e.Line()
		require.NoError(t, err)
		there[string(line)]++
	}
	for line := range heard.lines {
		require.Equal(t, 1, there[line], "confirmed, and not there as it was: %s", line)
	}
	check := recordlog.Check{Verifier: key.Verifier}
	for signed := range heard.checkpoints {
		check.Earlier = append(check.Earlier, recordlog.Earlier{Name: "earlier", Signed: []byte(signed)})
	}
	report, err := recordlog.Verify(os.DirFS(archived(t, log)), check)
	require.NoError(t, err)
	assert.Empty(t, report.Faults)
	for w := range writers {
		list, err := log.Site(t.Context(), fmt.Sprintf("sites/%c", 'a'+w))
		require.NoError(t, err)
		for n, e := range list {
			require.Equal(t, fmt.Sprintf("sites/%c/records/%d", 'a'+w, n/2), e.Name, "none is missing, none is there twice")
			require.EqualValues(t, n%2+1, e.Version)
		}
	}
	t.Logf("%d entries; %d confirmations of %d entries and %d checkpoints hold", size, heard.said, len(heard.lines), len(heard.checkpoints))
}

func TestKilledWritingOnSQLite(t *testing.T) {
	killedWriting(t, killsWanted(t), 3, func() life { return life{Folder: t.TempDir()} })
}

func TestKilledWritingOnPostgres(t *testing.T) {
	cluster := postgrestest.Start(t)
	killedWriting(t, killsWanted(t), 4, func() life { return life{Database: cluster.Database(t)} })
}
