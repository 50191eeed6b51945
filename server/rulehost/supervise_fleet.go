package rulehost

import (
	"cmp"
	"maps"
	"os"
	"slices"
	"sync"

	"golang.org/x/sys/unix"

	"example.org/rootward/rules"
)

// fleet is the plugins that compute rows, by the digest of their table. Its methods
// may be called from several goroutines.
type fleet struct {
	config  Config
	cache   *cache
	mu      sync.Mutex
	plugins map[string]*supervised
	closing sync.WaitGroup
}

func newFleet(c Config) *fleet {
	return &fleet{config: c, cache: newCache(c.Running.Cached), plugins: map[string]*supervised{}}
}

// adopt takes over the builds with computed rows among those that are admitted, and
// ends those that are not among them any more. Builds that it knows go on, and are
// tried again at once, whatever failed before. Of several builds of one table the
// first is kept. It opens their files anew, so that they may be closed afterwards.
func (f *fleet) adopt(builds []*admitted) {
	f.mu.Lock()
	defer f.mu.Unlock()
	wanted := map[string]bool{}
	for _, b := range builds {
		digest := b.set.Ref.Digest
		if wanted[digest] || !computes(b.set) {
			continue
		}
		wanted[digest] = true
		if known := f.plugins[digest]; known != nil && known.runs(b) {
			known.pardon()
			continue
		}
		f.take(b)
	}
	for digest, s := range f.plugins {
		if !wanted[digest] {
			delete(f.plugins, digest)
			f.closing.Go(s.close)
		}
	}
}

// take puts a build in the place of another of its table. The caller has the lock.
func (f *fleet) take(b *admitted) {
	digest := b.set.Ref.Digest
	if before := f.plugins[digest]; before != nil {
		delete(f.plugins, digest)
		f.closing.Go(before.close)
	}
	own, err := b.plugin.again()
	if err != nil {
		b.plugin.log.Error().Err(err).Msg("rule plugin cannot be kept: its computed rows are UNDETERMINED")
		return
	}
	f.plugins[digest] = &supervised{
		plugin: own, build: b.release.Binary, ruleSetID: b.set.Ref.ID, digest: digest,
		turn: make(chan struct{}, 1), troubles: map[string]*trouble{},
	}
}

// runs reports whether this is how a build would be run, so that it can go on.
func (s *supervised) runs(b *admitted) bool {
	p, q := s.plugin, b.plugin
	return s.build == b.release.Binary && p.name == q.name && p.firstParty == q.firstParty && slices.Equal(p.mayRead, q.mayRead)
}

func computes(set *rules.Set) bool {
	return slices.ContainsFunc(set.Table.Rows, func(r rules.Row) bool {
		_, ok := r.Effect.(rules.Computed)
		return ok
	})
}

// again is the plugin with a descriptor of its own for the same file, whatever lies
// under its name by now.
func (p *plugin) again() (*plugin, error) {
	fd, err := unix.FcntlInt(p.file.Fd(), unix.F_DUPFD_CLOEXEC, 3)
	if err != nil {
		return nil, err
	}
	return &plugin{
		name: p.name, file: os.NewFile(uintptr(fd), p.file.Name()), scope: p.scope,
		mayRead: p.mayRead, firstParty: p.firstParty, config: p.config, log: p.log,
	}, nil
}

// end ends all plugins and returns once they have ended.
func (f *fleet) end() {
	f.adopt(nil)
	f.closing.Wait()
}

func (f *fleet) of(digest string) *supervised {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.plugins[digest]
}

// status tells how the plugins fare, by file name.
func (f *fleet) status() []RunningStatus {
	f.mu.Lock()
	defer f.mu.Unlock()
	var list []RunningStatus
	for s := range maps.Values(f.plugins) {
		list = append(list, s.status())
	}
	slices.SortFunc(list, func(a, b RunningStatus) int { return cmp.Compare(a.File, b.File) })
	return list
}
