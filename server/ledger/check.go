package ledger

import (
	"context"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"example.org/rootward/rules/recordlog"
)

// Check reads the whole log and holds it against its checkpoint: every entry, every
// stored hash and every rule table. What others append meanwhile is left out.
func (l *Ledger) Check(ctx context.Context) error {
	_, size, err := l.Checkpoint(ctx)
	if err != nil {
		return err
	}
	tree, chain := &recordlog.Tree{}, recordlog.Chain{}
	for e, err := range l.Entries(ctx, 0, size) {
		if err != nil {
			return err
		}
		if wrong := chain.Next(e); len(wrong) > 0 {
			return damaged("entry %d: %s", e.Number, strings.Join(wrong, "; "))
		}
		line, err := e.Line()
		if err != nil {
			return err
		}
		if err := tree.Add(line); err != nil {
			return err
		}
	}
	if err := l.checkRoot(ctx, tree); err != nil {
		return err
	}
	if err := l.checkHashes(ctx, tree.Hashes()); err != nil {
		return err
	}
	if err := l.store.Intact(ctx); err != nil {
		return err
	}
	return l.checkTables(ctx)
}

// checkRoot holds a tree against the checkpoint, which may be of a larger one by now.
func (l *Ledger) checkRoot(ctx context.Context, tree *recordlog.Tree) error {
	for {
		signed, err := l.store.Checkpoint(ctx)
		if err != nil {
			return err
		}
		c, err := l.open(signed)
		if err != nil {
			return err
		}
		if c.Size == tree.Size() {
			return l.sameRoot(ctx, tree, c)
		}
		if c.Size < tree.Size() {
			return damaged("the checkpoint has gone back from %d entries to %d", tree.Size(), c.Size)
		}
		for e, err := range l.Entries(ctx, tree.Size(), c.Size) {
			if err != nil {
				return err
			}
			line, err := e.Line()
			if err == nil {
				err = tree.Add(line)
			}
			if err != nil {
				return err
			}
		}
	}
}

// sameRoot is an error, too, if there are entries that nobody signed.
func (l *Ledger) sameRoot(ctx context.Context, tree *recordlog.Tree, c recordlog.Checkpoint) error {
	root, err := tree.Root(c.Size)
	if err != nil {
		return err
	}
	if root != c.Root {
		return damaged("the entries do not give the root of the last checkpoint, of %d entries", c.Size)
	}
	more, err := l.store.EntriesFrom(ctx, c.Size, 1)
	if err != nil || len(more) == 0 {
		return err
	}
	if again, err := l.store.Checkpoint(ctx); err != nil {
		return err
	} else if p, err := l.open(again); err != nil || p.Size > c.Size {
		return err // it was appended meanwhile
	}
	return damaged("entry %d is behind the last checkpoint, which states %d entries", more[0].Number, c.Size)
}

func (l *Ledger) checkHashes(ctx context.Context, want []tlog.Hash) error {
	const most = 4096
	for first := 0; first < len(want); {
		list, err := l.store.Hashes(ctx, int64(first), most)
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return damaged("stored hash %d is missing", first)
		}
		for _, h := range list[:min(len(list), len(want)-first)] {
			if h != want[first] {
				return damaged("stored hash %d is not that of the entries", first)
			}
			first++
		}
	}
	return nil
}

func (l *Ledger) checkTables(ctx context.Context) error {
	list, err := l.Tables(ctx)
	if err != nil {
		return err
	}
	for _, digest := range list {
		if !digestForm.MatchString(digest) {
			return damaged("a rule table is kept under %.80q, which is no digest", digest)
		}
		if _, err := l.Table(ctx, digest); err != nil {
			return err
		}
	}
	return nil
}
