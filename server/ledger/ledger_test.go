package ledger_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/recordlog"
	"example.org/rootward/server/ledger"
	"example.org/rootward/server/ledger/ledgertest"
)

// filled is a log of so many entries.
func filled(t *testing.T, n int) (*ledgertest.Memory, *recordlog.Key, *ledger.Ledger) {
	m, key := &ledgertest.Memory{}, ledgertest.Key(t)
	l, err := ledger.Open(t.Context(), m, key)
	require.NoError(t, err)
	for i := range n {
		_, err := l.Append(t.Context(), draft(i))
		require.NoError(t, err)
	}
	return m, key, l
}

func draft(i int) ledger.Draft {
	return ledger.Draft{Name: fmt.Sprintf("plans/%d", i), Kind: "plan", Version: 1, Request: fmt.Sprint(i), Time: time.UnixMicro(1), Body: []byte(`{}`), Read: -1}
}

// What was changed behind the ledger's back is refused when the log is opened, and where
// the next entry rests on it, when that is appended, too.
func TestADamagedLogIsRefused(t *testing.T) {
	for name, k := range map[string]struct {
		damage  func(*ledgertest.Memory)
		appends bool // nothing that the next entry rests on
	}{
		"nothing":                {func(*ledgertest.Memory) {}, true},
		"a body":                 {func(m *ledgertest.Memory) { m.List[2].Body = []byte(`{"a":1}`) }, true},
		"a body with its leaf":   {func(m *ledgertest.Memory) { forge(t, m, 2) }, true},
		"a site":                 {func(m *ledgertest.Memory) { m.List[2].Site = "sites/b" }, true},
		"an entry removed":       {func(m *ledgertest.Memory) { m.List = append(m.List[:2:2], m.List[3:]...) }, true},
		"the last entry removed": {func(m *ledgertest.Memory) { m.List = m.List[:len(m.List)-1] }, true},
		"the last hash":          {func(m *ledgertest.Memory) { m.Stored[len(m.Stored)-1][0]++ }, false},
		"a hash removed":         {func(m *ledgertest.Memory) { m.Stored = m.Stored[:len(m.Stored)-1] }, false},
		"a hash within":          {func(m *ledgertest.Memory) { m.Stored[0][0]++ }, true},
		"no checkpoint":          {func(m *ledgertest.Memory) { m.Signed = []byte("none") }, false},
		"the first checkpoint":   {func(m *ledgertest.Memory) { m.Signed = nil }, false},
	} {
		m, key, _ := filled(t, 7)
		k.damage(m)
		_, err := ledger.Open(t.Context(), m, key)
		if name == "nothing" {
			require.NoError(t, err)
		} else {
			require.ErrorIs(t, err, ledger.ErrDamaged, name)
		}
		m, _, l := filled(t, 7)
		k.damage(m)
		_, err = l.Append(t.Context(), draft(7))
		if k.appends {
			require.NoError(t, err, name)
		} else {
			require.ErrorIs(t, err, ledger.ErrDamaged, name)
		}
	}
}

// forge changes an entry with its leaf, as one would who knows how they belong together.
func forge(t *testing.T, m *ledgertest.Memory, i int) {
	m.List[i].Body = []byte(`{"forged":true}`)
	line, err := m.List[i].Line()
	require.NoError(t, err)
	m.List[i].Leaf = recordlog.LeafHash(line)
}

func TestADamagedEntryIsNotGiven(t *testing.T) {
	m, _, l := filled(t, 3)
	m.List[1].Time = m.List[1].Time.Add(time.Hour)
	_, err := l.Get(t.Context(), "plans/1", 0)
	assert.ErrorIs(t, err, ledger.ErrDamaged)
	_, err = l.Kind(t.Context(), "plan")
	assert.ErrorIs(t, err, ledger.ErrDamaged)
	_, err = l.Get(t.Context(), "plans/2", 0)
	assert.NoError(t, err)
}

// Whatever is written, every checkpoint on the way holds for the log at its end.
func TestCheckpointsHold(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		_, key, l := filled(t, 0)
		tree := &recordlog.Tree{}
		var all []recordlog.Checkpoint
		versions := map[string]int64{}
		for i := range rapid.IntRange(0, 40).Draw(r, "entries") {
			d := draft(i)
			d.Name = rapid.SampledFrom([]string{"plans/a", "plans/b", "plans/c"}).Draw(r, "name")
			versions[d.Name]++
			d.Version = versions[d.Name]
			e, err := l.Append(t.Context(), d)
			require.NoError(r, err)
			line, err := e.Line()
			require.NoError(r, err)
			require.NoError(r, tree.Add(line))
			signed, _, err := l.Checkpoint(t.Context())
			require.NoError(r, err)
			c, err := recordlog.OpenCheckpoint(signed, key.Verifier)
			require.NoError(r, err)
			all = append(all, c)
		}
		for _, c := range all {
			root, err := tree.Root(c.Size)
			require.NoError(r, err)
			require.Equal(r, root, c.Root)
		}
		require.NoError(r, l.Check(t.Context()))
	})
}
