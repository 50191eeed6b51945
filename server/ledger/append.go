package ledger

import (
	"context"
	"errors"

	"golang.org/x/mod/sumdb/tlog"

	"example.org/rootward/rules/recordlog"
)

// Append keeps an entry and signs the log with it. The same request with the same
// digest gives the entry that it made before. ErrRequest, ErrVersion and ErrChanged say
// why it keeps nothing; ErrDamaged, that the log is not what was signed last.
func (l *Ledger) Append(ctx context.Context, d Draft) (*Entry, error) {
	e := Entry{Name: d.Name, Kind: d.Kind, Site: d.Site, Version: d.Version, Request: d.Request, Digest: d.Digest, Time: d.Time, Body: d.Body}
	if _, err := e.Line(); err != nil {
		return nil, err
	}
	var kept *Entry
	err := l.store.WriteLog(ctx, func(tx Tx) error {
		w := writing{ctx, tx, l}
		before, err := w.repeated(&d)
		if err == nil || !errors.Is(err, ErrUnknown) {
			kept = before
			return err
		}
		if err := w.due(&d); err != nil {
			return err
		}
		kept = &e
		return w.put(&e)
	})
	if err != nil {
		return nil, err
	}
	return kept, nil
}

// writing is a transaction at work.
type writing struct {
	ctx context.Context
	Tx
	*Ledger
}

func (w writing) repeated(d *Draft) (*Entry, error) {
	e, err := one(w.EntryOf(w.ctx, d.Request))
	if err == nil && (e.Digest != d.Digest || e.Name != d.Name) {
		err = ErrRequest
	}
	return e, err
}

// due is an error unless the draft is the next version of its thing, and its site is as
// it was read.
func (w writing) due(d *Draft) error {
	last, err := w.Last(w.ctx, d.Name)
	if err != nil {
		return err
	}
	if d.Version != last+1 {
		return ErrVersion
	}
	if d.Read < 0 {
		return nil
	}
	n, err := w.CountOfSite(w.ctx, d.Site)
	if err == nil && n != d.Read {
		err = ErrChanged
	}
	return err
}

// put numbers an entry, keeps it, and signs the log with it.
func (w writing) put(e *Entry) error {
	last, err := w.checkpoint()
	if err != nil {
		return err
	}
	e.Number = last.Size
	line, err := e.Line()
	if err != nil {
		return err
	}
	hashes, err := tlog.StoredHashes(e.Number, line, tlog.HashReaderFunc(w.hashes))
	if err != nil {
		return err
	}
	first := tlog.StoredHashCount(e.Number)
	root, err := tlog.TreeHash(e.Number+1, w.with(first, hashes))
	if err != nil {
		return err
	}
	signed, err := recordlog.Checkpoint{Origin: w.Origin(), Size: e.Number + 1, Root: root}.Sign(w.key.Signer)
	if err != nil {
		return err
	}
	if err := w.Put(w.ctx, &Kept{*e, recordlog.LeafHash(line)}, first, hashes); err != nil {
		return err
	}
	return w.SetCheckpoint(w.ctx, signed)
}

// checkpoint gives the last one. The hashes that the next is made from must fit it.
func (w writing) checkpoint() (recordlog.Checkpoint, error) {
	signed, err := w.Tx.Checkpoint(w.ctx)
	if err != nil {
		return recordlog.Checkpoint{}, err
	}
	last, err := w.open(signed)
	if err != nil {
		return last, err
	}
	root, err := tlog.TreeHash(last.Size, tlog.HashReaderFunc(w.hashes))
	if err == nil && root != last.Root {
		err = damaged("the stored hashes do not give the root of the last checkpoint, of %d entries", last.Size)
	}
	return last, err
}

func (w writing) hashes(indexes []int64) ([]tlog.Hash, error) {
	if len(indexes) == 0 {
		return nil, nil
	}
	list, err := w.HashesAt(w.ctx, indexes)
	if errors.Is(err, ErrUnknown) {
		err = damaged("stored hashes are missing")
	}
	return list, err
}

// with reads hashes as they are once those from an index on are kept.
func (w writing) with(first int64, fresh []tlog.Hash) tlog.HashReader {
	return tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		var old []int64
		for _, at := range indexes {
			if at < first {
				old = append(old, at)
			}
		}
		kept, err := w.hashes(old)
		if err != nil {
			return nil, err
		}
		list := make([]tlog.Hash, 0, len(indexes))
		for _, at := range indexes {
			if at >= first {
				list = append(list, fresh[at-first])
				continue
			}
			list, kept = append(list, kept[0]), kept[1:]
		}
		return list, nil
	})
}
