package rulehost

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulerelease"
	"github.com/rs/zerolog"
)

// Config holds the limits within which plugins are loaded. A zero value takes
// the default.
type Config struct {
	// Log gets one line for each plugin, and at debug level what plugins write to
	// their standard error. Its writer is used from several goroutines at once.
	Log zerolog.Logger
	// StartTimeout bounds how long a plugin takes to describe itself, and then to
	// start: by default 10 s. On two busy cores three plugins were loaded together
	// in 0.4 to 1.8 s; raise it where a machine is slower than that.
	StartTimeout time.Duration
	// CompileTimeout bounds how long a plugin takes to give its table, by default
	// 10 s.
	CompileTimeout time.Duration
	// StopTimeout bounds how long a plugin may take to end when asked, by default
	// 3 s; then it is killed. Below 2 s go-plugin's own grace is cut short.
	StopTimeout time.Duration
	// MaxTable is the size in bytes of the largest table that is taken, by default
	// 4 MiB; a set of 28 rows and 68 worked cases measures 24 kB. One of 16 MiB with
	// nothing but empty rows took 1.5 GB once it was read.
	MaxTable int
	// Unsigned names plugin files that are run though nobody has signed them, and are
	// active while rules.lock says nothing of their rule set; "all" names every file.
	// It is for authors, at their own desk.
	Unsigned []string
	// Unconfined names plugin files that are run although a layer of confinement is
	// missing; "all" names every file.
	Unconfined []string
	// AllowChanges lets Activate, RollBack and Retire change what is active.
	AllowChanges bool
	// Now gives the time for rules.lock, for warnings about dates and for when a plugin
	// that failed is tried again, by default the machine's. Decisions never ask for it.
	Now func() time.Time
	// Running holds how plugins that compute rows are kept running.
	Running Running

	scratch *scratch        // where plugins have their sockets
	ending  *sync.WaitGroup // plugins that have given their tables; for one load at a time
}

func (c Config) withDefaults() Config {
	for _, d := range []struct {
		value *time.Duration
		by    time.Duration
	}{{&c.StartTimeout, 10 * time.Second}, {&c.CompileTimeout, 10 * time.Second}, {&c.StopTimeout, 3 * time.Second}} {
		if *d.value <= 0 {
			*d.value = d.by
		}
	}
	if c.MaxTable <= 0 {
		c.MaxTable = 4 << 20
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	c.Running = c.Running.withDefaults()
	c.scratch, c.ending = &scratch{}, &sync.WaitGroup{}
	return c
}

// Host keeps the releases of a folder, and which of them are active. Its methods
// may be called from several goroutines.
type Host struct {
	config   Config
	running  *fleet     // the plugins that compute rows
	changing sync.Mutex // one Load, Releases or change at a time
	now      atomic.Pointer[snapshot]
	pairs    pairs
}

// New gives a host whose catalog is empty, so that every decision is
// UNDETERMINED until Load has been called.
func New(c Config) *Host {
	h := &Host{config: c.withDefaults()}
	h.running = newFleet(h.config)
	h.now.Store(&snapshot{known: map[string]*admitted{}, trust: &rulerelease.Trust{}, lock: &rulerelease.Lock{}, catalog: &Catalog{}})
	return h
}

// Catalog gives the rule sets that are active now. It does not change: who holds
// one is not affected by a later change.
func (h *Host) Catalog() *Catalog { return h.now.Load().catalog }

// Load looks into the folder anew, compiles every release in it, side by side, and
// makes active what rules.lock pins. Its error says that the folder, its trust.yaml
// or its rules.lock cannot be read, or that the context ended; everything then stays
// as it was. What is wrong with a single plugin is in Catalog.NotLoaded, and in
// Catalog.Kept where an earlier load still decides.
func (h *Host) Load(ctx context.Context, dir string) error {
	h.changing.Lock()
	defer h.changing.Unlock()
	defer h.config.ending.Wait()
	return h.load(ctx, dir)
}

// Start is Load for a server that starts: it returns as soon as the sets decide, while
// the plugins that gave their tables may still be ending. Close waits for them.
func (h *Host) Start(ctx context.Context, dir string) error {
	h.changing.Lock()
	defer h.changing.Unlock()
	return h.load(ctx, dir)
}

func (h *Host) load(ctx context.Context, dir string) error {
	a, err := h.admission(dir)
	if err != nil {
		return err
	}
	list, err := a.all(ctx)
	if err != nil {
		return err
	}
	next := newSnapshot(a, list, h.now.Load())
	h.warnOfWriters(dir)
	h.report(next)
	h.swap(next)
	return nil
}

// admission reads what the operator says of a folder.
func (h *Host) admission(dir string) (*admission, error) {
	trust, err := rulerelease.ReadTrust(dir)
	if err != nil {
		return nil, err
	}
	name := filepath.Join(dir, rulerelease.LockFile)
	text, err := os.ReadFile(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		text = nil
	case err != nil:
		return nil, fmt.Errorf("the lock cannot be read: %w", err)
	}
	lock := &rulerelease.Lock{}
	if text != nil {
		if lock, err = rulerelease.ParseLock(text, name); err != nil {
			return nil, err
		}
	}
	return &admission{config: h.config, dir: dir, trust: trust, lock: lock, lockText: text}, nil
}

// swap puts a snapshot in the place of the present one. The plugins of tables that
// nobody can ask for any more are ended.
func (h *Host) swap(next *snapshot) {
	h.now.Store(next)
	h.running.adopt(next.usable())
}

func (h *Host) report(s *snapshot) {
	for _, set := range s.catalog.Sets {
		h.config.Log.Info().Str("rule_set", set.Ref.ID).Str("version", set.Ref.Version).Str("digest", set.Ref.Digest).
			Stringer("layer", set.Ref.Layer).Int("rows", len(set.Table.Rows)).Msg("rule set loaded")
		h.warnOfDates(set)
	}
	for _, f := range s.catalog.NotLoaded {
		h.config.Log.Warn().Str("plugin", f.Where).Str("problem", f.Problem).Msg("rule plugin not loaded")
	}
	for _, f := range s.catalog.Kept {
		h.config.Log.Warn().Str("plugin", f.Where).Str("rule_set", f.RuleSet).Str("problem", f.Problem).Msg("rule set not loaded anew; the last valid one goes on")
	}
	for _, f := range s.found {
		if f.admitted == nil && !f.byName {
			h.config.Log.Warn().Str("plugin", f.file).Str("problem", f.problem).Msg("release refused")
		}
	}
}

// warnOfWriters logs that any user of the machine can say whose law counts, or which.
func (h *Host) warnOfWriters(dir string) {
	for _, path := range []string{dir, filepath.Join(dir, rulerelease.TrustFile), filepath.Join(dir, rulerelease.LockFile)} {
		if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o002 != 0 {
			h.config.Log.Warn().Str("path", path).Stringer("mode", info.Mode()).Msg("everyone can write to it, and so say whose law counts: chmod o-w it")
		}
	}
}

// warnOfDates logs that an active set is not in force today, or overdue.
func (h *Host) warnOfDates(set *rules.Set) {
	if problem := dateProblem(set, h.today()); problem != "" {
		h.config.Log.Warn().Str("rule_set", set.Ref.ID).Str("version", set.Ref.Version).Str("problem", problem).Msg("rule set wants its agency's attention")
	}
}

func (h *Host) today() civil.Date {
	now := h.config.Now().UTC()
	return civil.Of(now.Year(), now.Month(), now.Day())
}

// dateProblem says what the dates of a set's manifest ask for on a day.
func dateProblem(set *rules.Set, today civil.Date) string {
	switch m := &set.Table.Manifest; {
	case m.ValidTo.Known() && m.ValidTo < today:
		return fmt.Sprintf("ran out on %s; everything in %s is UNDETERMINED until another version is activated", m.ValidTo, m.Scope)
	case today < m.ValidFrom:
		return fmt.Sprintf("is not in force before %s", m.ValidFrom)
	case m.ReviewBy.Known() && m.ReviewBy < today:
		return fmt.Sprintf("was to be reviewed by %s; ask its publisher for the version that is the law now", m.ReviewBy)
	}
	return ""
}
