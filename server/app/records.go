package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/rs/zerolog"

	"example.org/rootward/rules/recordlog"
	"example.org/rootward/server/api"
	"example.org/rootward/server/ledger"
	"example.org/rootward/server/store"
)

// keyFile is where the key of the log is kept in a data folder.
const keyFile = "record.key"

// recordKey is the file of the log's key; empty if none is stated.
func (c *config) recordKey() string {
	if c.RecordKey == "" && c.Data != "" {
		return filepath.Join(c.Data, keyFile)
	}
	return c.RecordKey
}

// openLedger opens the log of campaigns in the store of the batches; nil without a store,
// and without a key to sign it with.
func openLedger(ctx context.Context, c *config, s *store.Store, log zerolog.Logger) (api.Ledger, error) {
	if s == nil {
		return nil, nil
	}
	path := c.recordKey()
	if path == "" {
		log.Warn().Msg("campaigns are not kept: --database needs --record-key FILE, too, the same key on each server, to sign their log with")
		return nil, nil
	}
	key, made, err := loadKey(path, c.rehearsal())
	if err != nil {
		return nil, fmt.Errorf("--record-key: %w", err)
	}
	if is := recordlog.IsRehearsal(key.Signer.Name()); is != c.rehearsal() {
		return nil, fmt.Errorf("the log of campaigns in %s: %s", c.storeFlag(), mixedUp[is])
	}
	l, err := ledger.Open(ctx, s, key)
	if err != nil {
		if made { // not this log's: the next start shall not take it for that
			err = fmt.Errorf("%w; %s was missing: put the log's own key there", errors.Join(err, os.Remove(path)), path)
		}
		return nil, fmt.Errorf("the log of campaigns in %s: %w", c.storeFlag(), err)
	}
	log.Info().Str("origin", l.Origin()).Str("verifier", l.Verifier()).Msg("campaigns are kept")
	return l, nil
}

// mixedUp is said of a log that is a rehearsal, or is not, where the flags say otherwise.
var mixedUp = map[bool]string{
	true:  "it is a rehearsal: give --rehearse DATE, or another place",
	false: "it holds real records, which a made-up clock must not date: rehearse in another place, or leave --rehearse out",
}

// maxKey bounds a key file in bytes.
const maxKey = 4096

// loadKey reads the key of the log, and makes one where there is none.
func loadKey(path string, rehearsal bool) (key *recordlog.Key, made bool, err error) {
	private, err := readKey(path)
	if errors.Is(err, fs.ErrNotExist) {
		made = true
		private, err = makeKey(path, rehearsal)
	}
	if err != nil {
		return nil, false, err
	}
	key, err = recordlog.ParseKey(private)
	if err != nil {
		err = fmt.Errorf("%s: %w", path, err)
	}
	return key, made, err
}

func readKey(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil || info.Mode().Perm()&0o077 != 0 {
		return "", errors.Join(err, fmt.Errorf("%s can be used by others than its owner: chmod 600 it, and think about who has read it", path))
	}
	text, err := io.ReadAll(io.LimitReader(f, maxKey))
	return string(text), err
}

// makeKey writes a new key that survives a loss of power, before anything is signed
// with it.
func makeKey(path string, rehearsal bool) (private string, err error) {
	draw := recordlog.NewKey
	if rehearsal {
		draw = recordlog.NewRehearsalKey
	}
	private, err = draw(nil)
	if err != nil {
		return "", err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return "", err
	}
	_, err = f.WriteString(private + "\n")
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return "", errors.Join(err, os.Remove(path))
	}
	return private, syncFolder(filepath.Dir(path))
}

func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
