package rulehost

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"runtime"
	"strings"
	"sync"

	"golang.org/x/sys/unix"

	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulewire"
	"github.com/rs/zerolog"
)

// plugin is one file of the folder. The file is opened once: what is hashed,
// described and started is the same file, whatever the folder holds under that
// name by then.
type plugin struct {
	name   string
	file   *os.File
	leased bool   // the kernel holds back who would write to it
	scope  string // the place whose law it says it is; empty until it does
	// What trust.yaml says of how the plugins of its agency run.
	mayRead    []string // absolute paths beside the plugin itself
	firstParty bool     // it runs even where a layer of confinement is missing
	config     Config
	log        zerolog.Logger
	tail       tail           // of its standard error
	ended      sync.WaitGroup // the process that gave its table
}

// maxFile bounds a build in bytes: with the whole of Go and gRPC one has some 20 MB.
const maxFile = 256 << 20

// openExecutable looks before it opens, since opening a device can do something, and
// again at what it opened, which can be another by then. It waits for no pipe.
func openExecutable(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("cannot be looked at: %w; repair or remove it", err)
	}
	if err := fitToRun(info); err != nil {
		return nil, err
	}
	file, err := os.OpenFile(path, os.O_RDONLY|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("cannot be read: %w; let the server's user read it", err)
	}
	if info, err = file.Stat(); err == nil {
		err = fitToRun(info)
	}
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return file, nil
}

func fitToRun(info fs.FileInfo) error {
	switch {
	case !info.Mode().IsRegular():
		return errors.New("is not a file; the folder holds compiled rule sets and nothing else")
	case info.Mode().Perm()&0o111 == 0:
		return errors.New("is not executable; make it so with chmod +x if it is a rule plugin, or take it out of the folder")
	case info.Size() > maxFile:
		return fmt.Errorf("has %d bytes; a rule plugin has at most %d: take it out of the folder", info.Size(), maxFile)
	}
	return nil
}

// sum gives the SHA-256 of the file.
func (p *plugin) sum() (string, error) {
	h := sha256.New()
	n, err := p.copyTo(polite{h})
	if err != nil {
		return "", fmt.Errorf("cannot be read: %w", err)
	}
	if n > maxFile {
		return "", fmt.Errorf("has more than %d bytes; take it out of the folder", maxFile)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// copyTo writes the file to w, at most one byte more than it may have. It is not read but
// looked at in the kernel's memory, which takes a sixth less of the whole sum, where the
// lease keeps it as long as it is.
func (p *plugin) copyTo(w io.Writer) (int64, error) {
	if p.leased {
		n, err := copyMapped(w, p.file)
		if !errors.Is(err, errors.ErrUnsupported) {
			return n, err
		}
	}
	return io.CopyBuffer(w, io.NewSectionReader(p.file, 0, maxFile+1), make([]byte, block))
}

// unwritten gives the lease of the file back, and reports whether it says that nobody wrote
// to the file.
func (p *plugin) unwritten() bool {
	if !p.leased {
		return false
	}
	p.leased = false
	return release(p.file)
}

// block is how much of a file is hashed at a time.
const block = 64 << 10

// polite lets others go first before each block: the sum of a build takes tens of
// milliseconds, for which answers would wait.
type polite struct{ io.Writer }

// Write implements io.Writer.
func (p polite) Write(b []byte) (int, error) {
	runtime.Gosched()
	return p.Writer.Write(b)
}

// tableAsDescribed takes the plugin's table and sees that it is what the plugin says of
// itself.
func (p *plugin) tableAsDescribed(ctx context.Context) (*rules.Set, error) {
	d, err := p.describe(ctx)
	if err != nil {
		return nil, err
	}
	p.scope = d.Scope
	if err := speaks(d.ContractVersion); err != nil {
		return nil, err
	}
	set, err := p.table(ctx)
	if err != nil {
		return nil, err
	}
	if set.Ref.Digest != d.Digest {
		return nil, fmt.Errorf("describes a table of digest %.12s and gives one of digest %.12s; it cannot be relied on: ask its publisher for a build whose table is fixed", d.Digest, set.Ref.Digest)
	}
	return set, nil
}

// speaks refuses a version of the plugin contract that is not this server's.
func speaks(version int) error {
	if version != ruleplugin.ContractVersion {
		return fmt.Errorf("speaks version %d of the plugin contract and this server version %d; install the plugin's build for this server, or the server for this plugin",
			version, ruleplugin.ContractVersion)
	}
	return nil
}

// table takes the plugin's table.
func (p *plugin) table(ctx context.Context) (*rules.Set, error) {
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
