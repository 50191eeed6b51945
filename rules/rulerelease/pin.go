package rulerelease

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"
)

// Sum gives the SHA-256 of a file as a release states it.
func Sum(name string) (string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// Verify reads the release of a build and sees that the trust covers it and that
// it is of that very file.
func Verify(file string, trust *Trust) (*Endorsed, error) {
	text, err := ReadRelease(file)
	if err != nil {
		return nil, err
	}
	e, err := trust.Check(text)
	if err != nil {
		return nil, err
	}
	sum, err := Sum(file)
	if err != nil {
		return nil, err
	}
	return e, e.Release.Covers(sum)
}

// ReadRelease reads the signed release that lies beside a build.
func ReadRelease(file string) ([]byte, error) {
	// A pipe that somebody laid there is not waited for.
	f, err := os.OpenFile(file+Extension, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("it is not signed: %w; have its agency sign it with rootward rules sign", err)
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		return nil, fmt.Errorf("its release %s is not a file; have its agency sign it with rootward rules sign", filepath.Base(f.Name()))
	}
	return io.ReadAll(io.LimitReader(f, maxText+1))
}

// Covers sees that the release is of the file with this SHA-256.
func (r *Release) Covers(sum string) error {
	if r.Binary != sum {
		return fmt.Errorf("the file has SHA-256 %.12s, and the one that was signed %.12s: it was changed, or its release is of another build; fetch both anew", sum, r.Binary)
	}
	return nil
}

// Pin makes the releases of the named builds active, without a server: for the
// first set-up of a folder. No names are all builds that have a release. Sets
// that are pinned already stay as they are; to put another release in their place
// is for a server, which asks for a comparison. Where the table is the same, the
// pin follows to the new build. It writes the lock, or gives a Faults with all that
// is wrong and writes nothing.
func Pin(dir string, files []string, trust *Trust, now time.Time, decidedBy string) (*Lock, error) {
	lock, err := ReadLock(dir)
	if err != nil {
		return nil, err
	}
	if len(files) == 0 {
		if files, err = released(dir); err != nil {
			return nil, err
		}
	}
	p := &pinning{lock: lock, chosen: map[string]string{}, now: now, by: decidedBy}
	if !oneLine(decidedBy) {
		p.add(LockFile, "%q does not say who decides; name them on one line", clip(decidedBy))
	}
	for _, file := range files {
		e, err := Verify(filepath.Join(dir, file), trust)
		if err != nil {
			p.add(file, "%s", err)
			continue
		}
		p.take(file, e)
	}
	if len(p.faults) > 0 {
		return nil, p.faults
	}
	return p.lock, p.lock.Write(dir)
}

// released lists the builds of a folder that have a release, by name.
func released(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if name, ok := strings.CutSuffix(e.Name(), Extension); ok && !strings.HasPrefix(name, ".") {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("%s holds no release (a file that ends in %s); sign the builds with rootward rules sign", dir, Extension)
	}
	return names, nil
}

type pinning struct {
	lock   *Lock
	chosen map[string]string // file by rule set
	now    time.Time
	by     string
	faults Faults
}

func (p *pinning) add(file, format string, args ...any) {
	p.faults = append(p.faults, Fault{File: file, Problem: fmt.Sprintf(format, args...)})
}

// take pins one release, unless something speaks against it.
func (p *pinning) take(file string, e *Endorsed) {
	r := e.Release
	active := p.lock.Active(r.RuleSet)
	first, again := p.chosen[r.RuleSet]
	p.chosen[r.RuleSet] = file
	if again {
		p.add(file, "holds rule set %s, as does %s; name the one that is to be active", r.RuleSet, first)
		return
	}
	if err := p.lock.Contradicts(&r); err != nil {
		p.add(file, "%s", err)
		return
	}
	if active != nil && active.Release.Table != r.Table {
		p.add(file, "release %s of rule set %s is pinned already; put %s in its place with rootward rules activate, which compares them", active.Release.Version, r.RuleSet, r.Version)
		return
	}
	if other := p.lock.Overlap(&r); other != "" {
		p.add(file, "rule set %s is of the layer %s for %s, as is the active %s; one of them may state it", r.RuleSet, r.Layer, r.Scope, other)
		return
	}
	pin := Entry{Release: r, File: file, Signers: e.Signers, Since: p.now, DecidedBy: p.by}
	if active == nil {
		p.lock = p.lock.Activate(pin)
		return
	}
	if active.Release.Binary != r.Binary || active.File != file || !slices.Equal(active.Signers, e.Signers) {
		pin.Since = second(p.now)
		p.lock = p.lock.with(r.RuleSet, func(s *Pinned) { s.Active = &pin })
	}
}

// Overlap gives another active rule set of the same layer and scope, and an
// empty text where there is none. Which of two that state one layer's law of one
// place is right nobody could tell; scopes that lie one in the other are two
// levels, of which the stricter decides.
func (l *Lock) Overlap(r *Release) string {
	for _, s := range l.Sets {
		if s.Active != nil && s.RuleSet != r.RuleSet && s.Active.Release.Layer == r.Layer && s.Active.Release.Scope == r.Scope {
			return s.RuleSet
		}
	}
	return ""
}
