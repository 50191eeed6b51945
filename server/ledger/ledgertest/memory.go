// Package ledgertest has a log in memory for tests.
package ledgertest

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"example.org/rootward/rules/recordlog"
	"example.org/rootward/server/ledger"
)

// New gives an empty log in memory.
func New(t testing.TB) *ledger.Ledger {
	t.Helper()
	l, err := ledger.Open(t.Context(), &Memory{}, Key(t))
	require.NoError(t, err)
	return l
}

// Key makes a key.
func Key(t testing.TB) *recordlog.Key {
	t.Helper()
	private, err := recordlog.NewKey(nil)
	require.NoError(t, err)
	key, err := recordlog.ParseKey(private)
	require.NoError(t, err)
	return key
}

// Memory is a ledger.Store that keeps everything until the end of the process. Its
// fields may be changed between calls, to see what is made of it.
type Memory struct {
	mu      sync.Mutex
	List    []ledger.Kept
	Stored  []tlog.Hash
	Signed  []byte
	Digests map[string]ledger.KeptTable
}

var _ ledger.Store = (*Memory)(nil)

// WriteLog implements ledger.Store: what f did is undone when it fails.
func (m *Memory) WriteLog(_ context.Context, f func(ledger.Tx) error) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	entries, hashes, signed := len(m.List), len(m.Stored), m.Signed
	err := f(transaction{m})
	if err != nil {
		m.List, m.Stored, m.Signed = m.List[:entries], m.Stored[:hashes], signed
	}
	return err
}

// transaction is a Memory whose lock is held.
type transaction struct{ m *Memory }

func (t transaction) Checkpoint(context.Context) ([]byte, error) {
	return slices.Clone(t.m.Signed), nil
}

func (t transaction) EntryOf(_ context.Context, request string) (*ledger.Kept, error) {
	return t.m.last(func(e *ledger.Kept) bool { return e.Request == request })
}

func (t transaction) Last(_ context.Context, name string) (int64, error) {
	e, err := t.m.last(func(e *ledger.Kept) bool { return e.Name == name })
	if err != nil {
		return 0, nil
	}
	return e.Version, nil
}

func (t transaction) CountOfSite(_ context.Context, site string) (int64, error) {
	return int64(len(t.m.where(func(e *ledger.Kept) bool { return e.Site == site }))), nil
}

func (t transaction) HashesAt(_ context.Context, indexes []int64) ([]tlog.Hash, error) {
	list := make([]tlog.Hash, len(indexes))
	for i, at := range indexes {
		if at >= int64(len(t.m.Stored)) {
			return nil, ledger.ErrUnknown
		}
		list[i] = t.m.Stored[at]
	}
	return list, nil
}

func (t transaction) Put(_ context.Context, e *ledger.Kept, _ int64, hashes []tlog.Hash) error {
	t.m.List = append(t.m.List, *copied(e))
	t.m.Stored = append(t.m.Stored, hashes...)
	return nil
}

func (t transaction) SetCheckpoint(_ context.Context, signed []byte) error {
	t.m.Signed = slices.Clone(signed)
	return nil
}

func copied(e *ledger.Kept) *ledger.Kept {
	c := *e
	c.Body = slices.Clone(e.Body)
	return &c
}

func (m *Memory) where(is func(*ledger.Kept) bool) []*ledger.Kept {
	var list []*ledger.Kept
	for i := range m.List {
		if is(&m.List[i]) {
			list = append(list, copied(&m.List[i]))
		}
	}
	return list
}

func (m *Memory) last(is func(*ledger.Kept) bool) (*ledger.Kept, error) {
	list := m.where(is)
	if len(list) == 0 {
		return nil, ledger.ErrUnknown
	}
	return list[len(list)-1], nil
}

// Checkpoint implements ledger.Store.
func (m *Memory) Checkpoint(ctx context.Context) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return transaction{m}.Checkpoint(ctx)
}

// EntryOf implements ledger.Store.
func (m *Memory) EntryOf(ctx context.Context, request string) (*ledger.Kept, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return transaction{m}.EntryOf(ctx, request)
}

// Entry implements ledger.Store.
func (m *Memory) Entry(_ context.Context, name string, version int64) (*ledger.Kept, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.last(func(e *ledger.Kept) bool { return e.Name == name && (version == 0 || e.Version == version) })
}

// EntriesOfSite implements ledger.Store.
func (m *Memory) EntriesOfSite(_ context.Context, site string) ([]*ledger.Kept, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.where(func(e *ledger.Kept) bool { return e.Site == site }), nil
}

// EntriesOfKind implements ledger.Store.
func (m *Memory) EntriesOfKind(_ context.Context, kind string) ([]*ledger.Kept, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	last := map[string]int64{}
	for _, e := range m.List {
		last[e.Name] = e.Number
	}
	return m.where(func(e *ledger.Kept) bool { return e.Kind == kind && last[e.Name] == e.Number }), nil
}

// EntriesOfPage implements ledger.Store.
func (m *Memory) EntriesOfPage(ctx context.Context, p ledger.Page) ([]*ledger.Kept, error) {
	list, err := m.EntriesOfKind(ctx, p.Kind)
	list = slices.DeleteFunc(list, func(e *ledger.Kept) bool { return e.Name <= p.After || p.Site != "" && e.Site != p.Site })
	slices.SortFunc(list, func(a, b *ledger.Kept) int { return cmp.Compare(a.Name, b.Name) })
	return list[:min(len(list), p.Size)], err
}

// EntriesFrom implements ledger.Store.
func (m *Memory) EntriesFrom(_ context.Context, first, most int64) ([]*ledger.Kept, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	list := m.where(func(e *ledger.Kept) bool { return e.Number >= first && e.Number-first < most })
	return list, nil
}

// Hashes implements ledger.Store.
func (m *Memory) Hashes(_ context.Context, first, most int64) ([]tlog.Hash, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	n := int64(len(m.Stored))
	return slices.Clone(m.Stored[min(first, n):min(first+most, n)]), nil
}

// Intact implements ledger.Store.
func (m *Memory) Intact(context.Context) error { return nil }

// PutTable implements ledger.Store.
func (m *Memory) PutTable(_ context.Context, digest string, t ledger.KeptTable) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.Digests == nil {
		m.Digests = map[string]ledger.KeptTable{}
	}
	if _, there := m.Digests[digest]; !there {
		m.Digests[digest] = ledger.KeptTable{Data: slices.Clone(t.Data), Sum: t.Sum}
	}
	return nil
}

// Table implements ledger.Store.
func (m *Memory) Table(_ context.Context, digest string) (*ledger.KeptTable, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	t, there := m.Digests[digest]
	if !there {
		return nil, ledger.ErrUnknown
	}
	return &t, nil
}

// Tables implements ledger.Store.
func (m *Memory) Tables(context.Context) ([]string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Sorted(maps.Keys(m.Digests)), nil
}
