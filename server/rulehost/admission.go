package rulehost

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulerelease"
)

// admitted is a build whose table may decide once it is activated. It does not
// change.
type admitted struct {
	set     *rules.Set
	plugin  *plugin             // its file stays open, unless no row is computed
	release rulerelease.Release // what was signed, or what an unsigned build gave
	signers []string            // none where it runs unsigned
	note    []byte              // the signed release; nil where it runs unsigned
	info    fs.FileInfo         // of the file that was read
}

// found is what came of one file of the folder.
type found struct {
	file     string
	sum      string // SHA-256; empty where the file could not be read
	scope    string // the place whose law it says it is, if it came to that
	ruleSet  string // the id that it says it has, if it came to that
	signers  []string
	note     []byte    // the signed release, where it counts
	byName   bool      // Config.Unsigned names it
	admitted *admitted // nil where it was refused
	problem  string    // why it was refused, and what to do
	lines    []string  // the last ones of its standard error
	revoked  bool      // refused for want of trust, not for what it is
}

// atOnce is how many plugins are started side by side: each holds a thread.
const atOnce = 8

// admission looks into a folder and admits what may decide.
type admission struct {
	config Config
	dir    string
	trust  *rulerelease.Trust
	lock   *rulerelease.Lock
	// lockText is the lock as it lies in the folder; nil where none does.
	lockText []byte
	// known is builds that were admitted before, by SHA-256, which need not be
	// compiled again.
	known map[string]*admitted
}

// all admits the files of the folder side by side, and gives what came of each, by
// name.
func (a *admission) all(ctx context.Context) ([]*found, error) {
	entries, err := os.ReadDir(a.dir)
	if err != nil {
		return nil, fmt.Errorf("rule plugins: %w; name the folder of the compiled rule sets with --rules", err)
	}
	entries = slices.DeleteFunc(entries, func(e fs.DirEntry) bool { return isNoPlugin(e.Name()) })
	list := make([]*found, len(entries))
	slots := make(chan struct{}, atOnce)
	var all sync.WaitGroup
	for i, e := range entries {
		all.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			list[i] = a.one(ctx, e.Name())
		})
	}
	all.Wait()
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("rule plugins of %s: %w", a.dir, err)
	}
	a.refuseSecondContents(list)
	return list, nil
}

// isNoPlugin tells the files that lie beside plugins.
func isNoPlugin(name string) bool {
	return strings.HasPrefix(name, ".") || strings.HasSuffix(name, rulerelease.Extension) ||
		name == rulerelease.TrustFile || name == rulerelease.LockFile
}

func (a *admission) one(ctx context.Context, name string) *found {
	f := &found{file: printable(name), byName: names(a.config.Unsigned, name)}
	if f.file != name {
		f.problem = "has a name that cannot be shown; rename it, or take it out of the folder"
		return f
	}
	if err := a.admit(ctx, f); err != nil {
		f.problem, f.admitted = printableLines(err.Error()), nil
	}
	return f
}

// names reports whether a flag's list names a file.
func names(list []string, file string) bool {
	return slices.Contains(list, file) || slices.Contains(list, "all")
}

// admit opens the file, hashes what it opened, sees whether that may be run, and
// only then runs it.
func (a *admission) admit(ctx context.Context, f *found) (err error) {
	path := filepath.Join(a.dir, f.file)
	file, err := openExecutable(path)
	if err != nil {
		return err
	}
	p := &plugin{name: f.file, file: file, config: a.config, log: a.config.Log.With().Str("plugin", f.file).Logger()}
	p.leased = lease(file)
	defer func() {
		p.unwritten()
		if err != nil {
			p.ended.Wait() // for its last words
		}
		f.scope, f.lines = p.scope, p.tail.last()
		if f.admitted == nil || f.admitted.plugin != p || !computes(f.admitted.set) {
			_ = file.Close() // it was only read
		}
	}()
	if f.sum, err = p.sum(); err != nil {
		return err
	}
	p.log.Debug().Str("sha256", f.sum).Msg("rule plugin found")
	release, err := a.mayRun(p, f)
	if err != nil {
		return err
	}
	if f.admitted = a.again(p, f, release); f.admitted == nil {
		set, err := a.table(ctx, p, release)
		if err != nil {
			return err
		}
		f.ruleSet = set.Ref.ID
		if f.admitted, err = a.accept(p, f, set, release); err != nil {
			return err
		}
	}
	return nil
}

// table takes the plugin's table. What a signed one gives is held against what was signed,
// which says all that its description does; an unsigned one describes itself.
func (a *admission) table(ctx context.Context, p *plugin, signed *rulerelease.Release) (*rules.Set, error) {
	if signed == nil {
		return p.tableAsDescribed(ctx)
	}
	return p.table(ctx)
}

// mayRun sees whether the file may be run at all: because agencies that the
// operator trusts have signed it, or because the operator named it. The release is
// nil for one that is not signed.
func (a *admission) mayRun(p *plugin, f *found) (*rulerelease.Release, error) {
	e, note, err := a.endorsed(filepath.Join(a.dir, f.file), f.sum)
	if err == nil {
		r := &e.Release
		f.signers, f.note, f.ruleSet, p.scope = e.Signers, note, r.RuleSet, r.Scope
		p.mayRead, p.firstParty = e.Agency.MayRead, e.Agency.FirstParty
		if err := speaks(r.Contract); err != nil {
			return nil, err
		}
		return r, a.lock.Contradicts(r)
	}
	if !f.byName {
		f.revoked = true
		return nil, fmt.Errorf("was not run: %w; to try it at your own desk, name it with --unsigned", err)
	}
	p.log.Warn().Str("why", err.Error()).Msg("rule plugin is run without a valid release, because --unsigned names it")
	return nil, nil
}

func (a *admission) endorsed(path, sum string) (*rulerelease.Endorsed, []byte, error) {
	note, err := rulerelease.ReadRelease(path)
	if err != nil {
		return nil, nil, err
	}
	e, err := a.trust.Check(note)
	if err != nil {
		return nil, nil, err
	}
	return e, note, e.Release.Covers(sum)
}

// again gives a build that was admitted before with what is signed now, and nil
// where it has to be compiled.
func (a *admission) again(p *plugin, f *found, r *rulerelease.Release) *admitted {
	known := a.known[f.sum]
	if known == nil || r != nil && *r != known.release {
		return nil
	}
	info, err := p.file.Stat()
	if err != nil || !untouched(info, known.info) {
		return nil
	}
	next := *known
	next.signers, next.note = f.signers, f.note
	f.ruleSet, p.scope = known.release.RuleSet, known.release.Scope
	return &next
}

// untouched tells a file that nobody has changed since.
func untouched(a, b fs.FileInfo) bool {
	return os.SameFile(a, b) && a.Size() == b.Size() && a.ModTime().Equal(b.ModTime()) && a.Name() == b.Name()
}

// accept sees that the table is what was signed, and that the file is still what
// was hashed.
func (a *admission) accept(p *plugin, f *found, set *rules.Set, signed *rulerelease.Release) (*admitted, error) {
	m := &set.Table.Manifest
	gives := rulerelease.Release{
		RuleSet: m.ID, Version: m.Version, Layer: m.Layer, Scope: m.Scope,
		Contract: ruleplugin.ContractVersion, Binary: f.sum, Table: set.Ref.Digest,
	}
	if signed != nil && *signed != gives {
		return nil, fmt.Errorf("gives something else than was signed: %s; have its agency sign this build anew", differing(signed, &gives))
	}
	if err := a.lock.Contradicts(&gives); err != nil {
		return nil, err
	}
	if !p.unwritten() {
		if after, err := p.sum(); err != nil || after != f.sum {
			return nil, errors.New("the file changed while it was loaded; load again once it is written")
		}
	}
	info, err := p.file.Stat()
	if err != nil {
		return nil, fmt.Errorf("cannot be looked at: %w; repair or remove it", err)
	}
	return &admitted{set: set, plugin: p, release: gives, signers: f.signers, note: f.note, info: info}, nil
}

// differing lists the lines in which two releases differ.
func differing(signed, gives *rulerelease.Release) string {
	before, after := strings.Split(signed.Text(), "\n"), strings.Split(gives.Text(), "\n")
	var list []string
	for i := range before {
		if before[i] != after[i] {
			list = append(list, fmt.Sprintf("%q instead of %q", after[i], before[i]))
		}
	}
	return strings.Join(list, ", ")
}

// refuseSecondContents refuses signed builds of one version of a rule set that
// hold different tables, but for one that is pinned: which of them is that version
// nobody can tell.
func (a *admission) refuseSecondContents(list []*found) {
	type version struct{ id, version string }
	tables := map[version]map[string][]string{}
	for _, f := range list {
		if f.admitted == nil || len(f.signers) == 0 {
			continue
		}
		r := &f.admitted.release
		v := version{r.RuleSet, r.Version}
		if tables[v] == nil {
			tables[v] = map[string][]string{}
		}
		tables[v][r.Table] = append(tables[v][r.Table], f.file)
	}
	for _, f := range list {
		if f.admitted == nil || len(f.signers) == 0 {
			continue
		}
		r := &f.admitted.release
		if others := tables[version{r.RuleSet, r.Version}]; len(others) > 1 && !a.lock.Knows(r) {
			f.problem = fmt.Sprintf("is version %s of rule set %s, as is another file with other content (%s); the same version never has other content: keep the one that its agency stands by",
				r.Version, r.RuleSet, strings.Join(filesOf(others), ", "))
			f.admitted = nil
		}
	}
}

func filesOf(tables map[string][]string) []string {
	var files []string
	for _, list := range tables {
		files = append(files, list...)
	}
	slices.Sort(files)
	return files
}
