package rulehost

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"golang.org/x/sys/unix"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
)

// Change is what a change of the active sets did.
type Change struct {
	Active   rules.Ref // zero where nothing took the place
	Previous rules.Ref // zero where there was nothing before
}

// Activate makes an eligible release active in the place of the active one of its
// rule set. comparedWith is the digest of the table that is active, empty where
// there is none; Compared was told of the pair. The lock is written before anything
// changes. A change that is not made has an error with Refusal() string.
func (h *Host) Activate(ctx context.Context, digest, comparedWith, decidedBy string) (Change, error) {
	return h.change(ctx, decidedBy, func(c *change) error {
		b, f := c.now.eligible(digest)
		if err := c.fit(digest, b, f); err != nil {
			return err
		}
		id := b.release.RuleSet
		if err := c.seen(id, digest, comparedWith, &h.pairs); err != nil {
			return err
		}
		c.pinUnpinned(id)
		if err := c.alone(b); err != nil {
			return err
		}
		c.lock = c.lock.Activate(c.entry(b, f))
		c.verb, c.id, c.next = "activated", id, b
		return nil
	})
}

// RollBack makes the release active again that was before the active one. Rolling
// back again goes further back. activeDigest is the digest of the active table.
func (h *Host) RollBack(ctx context.Context, id, activeDigest, decidedBy string) (Change, error) {
	return h.change(ctx, decidedBy, func(c *change) error {
		if err := c.stillActive(id, activeDigest); err != nil {
			return err
		}
		c.pinUnpinned(id)
		before, err := c.lock.Before(id)
		if err != nil {
			return refuse(nothingBefore, "%s", err)
		}
		b, f := c.now.eligible(before.Release.Table)
		if err := c.fit(before.Release.Table, b, f); err != nil {
			return err
		}
		if err := c.alone(b); err != nil {
			return err
		}
		if c.lock, err = c.lock.RollBack(c.entry(b, f)); err != nil {
			return err
		}
		c.verb, c.id, c.next = "rolled back", id, b
		return nil
	})
}

// Retire takes a rule set out of force. activeDigest is the digest of its active
// table.
func (h *Host) Retire(ctx context.Context, id, activeDigest, decidedBy string) (Change, error) {
	return h.change(ctx, decidedBy, func(c *change) (err error) {
		if err := c.stillActive(id, activeDigest); err != nil {
			return err
		}
		c.pinUnpinned(id)
		if c.lock, err = c.lock.Retire(id, c.host.config.Now(), c.by); err != nil {
			return err
		}
		c.verb, c.id = "retired", id
		return nil
	})
}

// change is one change of what is active, while it is made.
type change struct {
	host *Host
	now  *snapshot
	by   string
	lock *rulerelease.Lock // as it will be
	verb string            // what is done, for the log
	id   string
	next *admitted // what will be active; nil for nothing
}

// change makes one change: it settles what is to be, writes the lock, and then
// puts it in force.
func (h *Host) change(ctx context.Context, decidedBy string, settle func(*change) error) (Change, error) {
	h.changing.Lock()
	defer h.changing.Unlock()
	if err := ctx.Err(); err != nil {
		return Change{}, err
	}
	if !h.config.AllowChanges {
		return Change{}, refuse(changesOff, "this server does not let its rule sets be changed; its operator starts it with --allow-rule-changes to let callers do so")
	}
	now := h.now.Load()
	c := &change{host: h, now: now, by: onOneLine(decidedBy), lock: now.lock}
	err := settle(c)
	if err == nil {
		err = c.write()
	}
	if err != nil {
		h.config.Log.Warn().Str("rule_set", c.id).Str("decided_by", c.by).Str("problem", err.Error()).Msg("change of rule sets not made")
		return Change{}, err
	}
	next := now.with(c.lock, map[string]*admitted{c.id: c.next})
	next.lockText = c.lock.Text()
	h.swap(next)
	return c.done(), nil
}

// onOneLine is a name as the lock can hold it.
func onOneLine(name string) string {
	name = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, name)
	name = strings.Join(strings.Fields(name), " ")
	if name == "" {
		return "somebody who gave no name"
	}
	const longest = 200
	return strings.TrimSpace(strings.ToValidUTF8(name[:min(len(name), longest)], ""))
}

// fit sees that a release can be made active.
func (c *change) fit(digest string, b *admitted, f *found) error {
	if b == nil {
		return c.whyNot(digest)
	}
	info, err := os.Stat(filepath.Join(c.now.dir, f.file))
	if err != nil || !untouched(info, b.info) {
		return refuse(notEligible, "the file %s, which holds table %s, is gone or was changed since it was admitted; put it back, or list the releases anew", f.file, short(digest))
	}
	if err := c.lock.Contradicts(&b.release); err != nil {
		return refuse(notEligible, "%s", err)
	}
	return nil
}

// whyNot says why there is no eligible release of a table.
func (c *change) whyNot(digest string) error {
	for _, f := range c.now.found {
		if f.admitted != nil || f.problem == "" {
			continue
		}
		if b := c.now.known[digest]; b != nil && (f.file == b.info.Name() || f.sum == b.release.Binary) {
			return refuse(notEligible, "the release of table %s, file %s, is refused: %s", short(digest), f.file, f.problem)
		}
	}
	if b := c.now.known[digest]; b != nil {
		return refuse(notEligible, "the release of table %s, version %s of rule set %s, is in the folder no longer; put its file back and list the releases", short(digest), b.release.Version, b.release.RuleSet)
	}
	if s := c.lock.Holding(digest); s != nil {
		return refuse(notEligible, "the release of table %s, version %s of rule set %s, is pinned in %s and not admitted; rootward rules releases says why", short(digest), s.Release.Version, s.Release.RuleSet, rulerelease.LockFile)
	}
	return unknown(digest)
}

// seen sees that the caller has seen the change from the table that is active now.
func (c *change) seen(id, digest, comparedWith string, compared *pairs) error {
	if active := c.now.digestOf(id); active != comparedWith {
		return refuse(changedMeanwhile, "of rule set %q the active table is %s, not %s with which it was compared; compare it with that one, then activate", id, short(active), short(comparedWith))
	}
	if pin := c.lock.Active(id); digest == comparedWith && pin != nil && pin.Release.Table == digest {
		return refuse(notEligible, "table %s of rule set %q is active already; there is nothing to do", short(digest), id)
	}
	if !compared.has(comparedWith, digest) {
		return refuse(notCompared, "the tables %s and %s were not compared since this server started; look at what changes with rootward rules compare, then activate", short(comparedWith), short(digest))
	}
	return nil
}

// stillActive sees that the table is active that the caller takes for it. Where a
// pinned release could not be loaded, it counts as active, too.
func (c *change) stillActive(id, digest string) error {
	active, pinned := c.now.digestOf(id), ""
	if pin := c.lock.Active(id); pin != nil {
		pinned = pin.Release.Table
	}
	switch {
	case active == "" && pinned == "":
		return refuse(notActive, "no release of rule set %q is active; rootward rules releases lists what can be activated", id)
	case digest == "" || digest != active && digest != pinned:
		return refuse(changedMeanwhile, "of rule set %q the active table is %s, not %s; see what was changed with rootward rules releases", id, short(active), short(digest))
	}
	return nil
}

// alone sees that no other active set states the same layer's law of the place.
func (c *change) alone(b *admitted) error {
	m := &b.set.Table.Manifest
	for id, other := range c.now.active {
		o := &other.set.Table.Manifest
		if id != m.ID && o.Layer == m.Layer && o.Scope == m.Scope {
			return refuse(overlap, "rule set %q is of the layer %s for %s, as is the active rule set %q; two cannot state one layer's law of one place: retire that one first", m.ID, m.Layer, m.Scope, id)
		}
	}
	if other := c.lock.Overlap(&b.release); other != "" {
		return refuse(overlap, "rule set %q is of the layer %s for %s, as is rule set %q, which is pinned; retire that one first", m.ID, m.Layer, m.Scope, other)
	}
	return nil
}

// pinUnpinned puts what is active without a pin into the lock, so that one can roll
// back to it.
func (c *change) pinUnpinned(id string) {
	b := c.now.active[id]
	if b == nil || c.lock.Set(id) != nil {
		return
	}
	c.lock = c.lock.Activate(rulerelease.Entry{
		Release: b.release, File: b.info.Name(), Signers: b.signers, Since: c.host.config.Now(), DecidedBy: "--unsigned",
	})
}

func (c *change) entry(b *admitted, f *found) rulerelease.Entry {
	return rulerelease.Entry{Release: b.release, File: f.file, Signers: b.signers, Since: c.host.config.Now(), DecidedBy: c.by}
}

// write puts the lock into the folder, unless somebody else has changed the one
// that lies there.
func (c *change) write() error {
	held, err := hold(c.now.dir)
	if err != nil {
		return err
	}
	defer held.Close()
	name := filepath.Join(c.now.dir, rulerelease.LockFile)
	lies, err := os.ReadFile(name)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s cannot be read, so that nothing was changed: %w", name, err)
	}
	if !bytes.Equal(lies, c.now.lockText) {
		return refuse(changedMeanwhile, "%s was changed beside this server, which does not write over it; restart the server or have it reload (SIGHUP), then try again", name)
	}
	if err := c.lock.Write(c.now.dir); err != nil {
		return errors.Join(err, c.restore(name))
	}
	return nil
}

// changingFile is locked by the server that changes rules.lock, so that of two
// servers on one folder neither writes over what the other has just written. Nobody
// else can open it, and so hold up a change.
const changingFile = "." + rulerelease.LockFile + ".changing"

func hold(dir string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, changingFile), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written, so that nothing was changed: %w; let the server's user write in the folder", rulerelease.LockFile, err)
	}
	if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		return nil, errors.Join(refuse(changedMeanwhile, "another server changes %s at this moment; have this one reload (SIGHUP), then try again", rulerelease.LockFile), f.Close())
	}
	return f, nil
}

// restore puts the lock back that was there, if the new one lies there though it
// was not written to the end.
func (c *change) restore(name string) error {
	lies, err := os.ReadFile(name)
	if err != nil || !bytes.Equal(lies, c.lock.Text()) {
		return nil
	}
	if c.now.lockText == nil {
		return os.Remove(name)
	}
	return c.now.lock.Write(c.now.dir)
}

// done logs the change and says what it did.
func (c *change) done() Change {
	var did Change
	if c.next != nil {
		did.Active = c.next.set.Ref
	}
	if before := c.now.active[c.id]; before != nil {
		did.Previous = before.set.Ref
	}
	c.host.config.Log.Info().Str("rule_set", c.id).Str("decided_by", c.by).
		Str("from", did.Previous.Digest).Str("from_version", did.Previous.Version).
		Str("to", did.Active.Digest).Str("to_version", did.Active.Version).Msg("rule set " + c.verb)
	if c.next != nil {
		c.host.warnOfDates(c.next.set)
	}
	return did
}
