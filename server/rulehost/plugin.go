package rulehost

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulewire"
	"github.com/rs/zerolog"
)

// plugin is one file of the folder while it is being loaded. The file is opened
// once: what is described, hashed and started is the same file, whatever the
// folder holds under that name by then.
type plugin struct {
	name   string
	file   *os.File
	scope  string // the place whose law it says it is; empty until it does
	config Config
	log    zerolog.Logger
}

// load gives what came of one file; a hidden file gives nothing.
func (h *Host) load(ctx context.Context, path string) outcome {
	name := filepath.Base(path)
	if strings.HasPrefix(name, ".") {
		return outcome{}
	}
	// The kernel ends a plugin when the thread that started it ends, so that the
	// thread has to stay for as long as the plugin does.
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	p := &plugin{name: name, config: h.config, log: h.config.Log.With().Str("plugin", name).Logger()}
	set, err := p.table(ctx, path)
	if err != nil {
		return outcome{where: name, scope: p.scope, problem: err.Error()}
	}
	return outcome{where: name, scope: p.scope, set: set}
}

func (p *plugin) table(ctx context.Context, path string) (*rules.Set, error) {
	file, err := openExecutable(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	p.file = file
	before, err := p.sum()
	if err != nil {
		return nil, err
	}
	p.log.Debug().Str("sha256", before).Msg("rule plugin found")
	set, err := p.load(ctx)
	if err != nil {
		return nil, err
	}
	if after, err := p.sum(); err != nil || after != before {
		return nil, errors.New("the file changed while it was loaded; load again once it is written")
	}
	return set, nil
}

func openExecutable(path string) (*os.File, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, fmt.Errorf("cannot be looked at: %w; repair or remove it", err)
	case !info.Mode().IsRegular():
		return nil, errors.New("is not a file; the folder holds compiled rule sets and nothing else")
	case info.Mode().Perm()&0o111 == 0:
		return nil, errors.New("is not executable; make it so with chmod +x if it is a rule plugin, or take it out of the folder")
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("cannot be read: %w; let the server's user read it", err)
	}
	return file, nil
}

// sum gives the SHA-256 of the file.
func (p *plugin) sum() (string, error) {
	h := sha256.New()
	if _, err := io.Copy(h, io.NewSectionReader(p.file, 0, 1<<62)); err != nil {
		return "", fmt.Errorf("cannot be read: %w", err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// load takes the plugin's table and sees that it is what the plugin says of
// itself.
func (p *plugin) load(ctx context.Context) (*rules.Set, error) {
	d, err := p.describe(ctx)
	if err != nil {
		return nil, err
	}
	p.scope = d.Scope
	if d.ContractVersion != ruleplugin.ContractVersion {
		return nil, fmt.Errorf("speaks version %d of the plugin contract and this server version %d; install the plugin's build for this server, or the server for this plugin",
			d.ContractVersion, ruleplugin.ContractVersion)
	}
	table, err := p.compile(ctx)
	if err != nil {
		return nil, err
	}
	decoded, err := rulewire.DecodeTable(table)
	if err != nil {
		return nil, notValid(err)
	}
	set, err := rules.NewSet(decoded)
	if err != nil {
		return nil, notValid(err)
	}
	if set.Ref.Digest != d.Digest {
		return nil, fmt.Errorf("describes a table of digest %.12s and gives one of digest %.12s; it cannot be relied on: ask its publisher for a build whose table is fixed", d.Digest, set.Ref.Digest)
	}
	return set, nil
}

func notValid(err error) error {
	return fmt.Errorf("its rule table does not load; ask its publisher for a corrected one:\n%s", shorten(err.Error(), 4_000))
}

// shorten keeps a foreign text from filling a message or a log.
func shorten(text string, limit int) string {
	text = strings.TrimSpace(text)
	if len(text) <= limit {
		return text
	}
	return fmt.Sprintf("%s ... (%d bytes more)", strings.ToValidUTF8(text[:limit], ""), len(text)-limit)
}
