package rulehost

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"example.org/rootward/rules"
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
	// 16 MiB; a set of 28 rows and 68 worked cases measures 24 kB.
	MaxTable int
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
		c.MaxTable = 16 << 20
	}
	return c
}

// Host keeps the catalog of the rule sets that were loaded last. Its methods may
// be called from several goroutines.
type Host struct {
	config  Config
	loading sync.Mutex // one Load at a time
	catalog atomic.Pointer[Catalog]
}

// New gives a host whose catalog is empty, so that every decision is
// UNDETERMINED until Load has been called.
func New(c Config) *Host {
	h := &Host{config: c.withDefaults()}
	h.catalog.Store(&Catalog{})
	return h
}

// Catalog gives the rule sets that were loaded last. It does not change: who
// holds one is not affected by a later Load.
func (h *Host) Catalog() *Catalog { return h.catalog.Load() }

// atOnce is how many plugins are started side by side: each holds a thread.
const atOnce = 8

// Load starts every plugin of the folder, side by side, takes their tables,
// stops them, and puts what it found in the place of the catalog. Its error says
// that the folder cannot be read or that the context ended; the catalog then
// stays as it was. What is wrong with a single plugin is in Catalog.NotLoaded.
func (h *Host) Load(ctx context.Context, dir string) error {
	h.loading.Lock()
	defer h.loading.Unlock()
	entries, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("rule plugins: %w; name the folder of the compiled rule sets with --rules", err)
	}
	found := make([]outcome, len(entries))
	slots := make(chan struct{}, atOnce)
	var all sync.WaitGroup
	for i, e := range entries {
		all.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			found[i] = h.load(ctx, filepath.Join(dir, e.Name()))
		})
	}
	all.Wait()
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("rule plugins of %s: %w", dir, err)
	}
	c := newCatalog(found)
	if len(entries) == 0 {
		c.NotLoaded = []Fault{{Where: dir, Problem: "the folder is empty, so no rules are known and nothing may be treated; put the compiled rule sets of the place there"}}
	}
	h.report(c)
	h.catalog.Store(c)
	return nil
}

func (h *Host) report(c *Catalog) {
	for _, s := range c.Sets {
		h.config.Log.Info().Str("rule_set", s.Ref.ID).Str("version", s.Ref.Version).Str("digest", s.Ref.Digest).
			Stringer("layer", s.Ref.Layer).Int("rows", len(s.Table.Rows)).Msg("rule set loaded")
	}
	for _, f := range c.NotLoaded {
		h.config.Log.Warn().Str("plugin", f.Where).Str("problem", f.Problem).Msg("rule plugin not loaded")
	}
}

// outcome is what came of one file of the folder: a set, or a problem.
type outcome struct {
	where   string
	scope   string // the place whose law it said it is, if it came to that
	set     *rules.Set
	problem string
}
