package rulerelease

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

const lockComment = `# Which release of each rule set is active, and which were. The server and
# "rootward rules" write this file; keep it under version control.
`

// Text writes a lock as ParseLock reads it, rule sets by id.
func (l *Lock) Text() []byte {
	w := &yamlWriter{}
	w.b.WriteString(lockComment)
	fmt.Fprintf(&w.b, "format: %d\nrule_sets:", lockFormat)
	if len(l.Sets) == 0 {
		w.b.WriteString(" []")
	}
	w.b.WriteString("\n")
	for i := range l.Sets {
		w.pinned(&l.Sets[i])
	}
	return []byte(w.b.String())
}

type yamlWriter struct{ b strings.Builder }

// value writes one line; every text stands in quotes, so that none is taken for
// a number.
func (w *yamlWriter) value(indent, key string, value any) {
	text, err := json.Marshal(value)
	if err != nil {
		panic("rulerelease: not a text: " + err.Error()) // only texts, lists of texts and numbers come here
	}
	fmt.Fprintf(&w.b, "%s%s: %s\n", indent, key, text)
}

func (w *yamlWriter) pinned(s *Pinned) {
	w.value("  - ", "id", s.RuleSet)
	if s.Active != nil {
		w.b.WriteString("    active:\n")
		w.pin("      ", "      ", s.Active)
	}
	if len(s.Past) > 0 {
		w.b.WriteString("    past:\n")
	}
	for i := range s.Past {
		p := &s.Past[i]
		w.pin("      - ", "        ", &p.Entry)
		w.value("        ", "until", p.Until.UTC().Format(timeForm))
		w.value("        ", "ended", p.Ended)
		w.value("        ", "ended_by", p.EndedBy)
	}
}

func (w *yamlWriter) pin(first, indent string, p *Entry) {
	r := &p.Release
	w.value(first, "file", p.File)
	w.value(indent, "version", r.Version)
	w.value(indent, "layer", r.Layer.String())
	w.value(indent, "scope", r.Scope)
	w.value(indent, "contract", r.Contract)
	w.value(indent, "binary", digestPrefix+r.Binary)
	w.value(indent, "table", digestPrefix+r.Table)
	w.value(indent, "signers", append([]string{}, p.Signers...))
	w.value(indent, "since", p.Since.UTC().Format(timeForm))
	w.value(indent, "decided_by", p.DecidedBy)
}

// Write puts the lock into a folder, whole or not at all, and durably: once it
// returns nil, the lock is there even after the machine lost power.
func (l *Lock) Write(dir string) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("%s cannot be written, so that nothing was changed: %w; let the server's user write in the folder", LockFile, err)
		}
	}()
	text := l.Text()
	// What cannot be read back must not replace what can.
	if _, err := ParseLock(text, LockFile); err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, "."+LockFile+"-")
	if err != nil {
		return err
	}
	if err := fill(f, text); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	if err := os.Rename(f.Name(), filepath.Join(dir, LockFile)); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return syncFolder(dir)
}

func fill(f *os.File, text []byte) error {
	_, err := f.Write(text)
	return errors.Join(err, f.Chmod(fs.FileMode(0o644)), f.Sync(), f.Close())
}

func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
