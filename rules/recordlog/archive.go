package recordlog

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"regexp"

	"golang.org/x/mod/sumdb/note"
)

// The files of an archive.
const (
	CheckpointFile = "checkpoint"
	EntriesFile    = "entries.jsonl"
	TablesFolder   = "tables"
)

const (
	// MaxTable bounds a rule table in bytes: a plugin hands over no larger one.
	MaxTable = 64 << 20
	// maxFaults is enough to see what has happened to an archive.
	maxFaults = 100
)

// Fault is one thing that is wrong with an archive.
type Fault struct {
	File    string // in the archive, or the name of an earlier checkpoint
	Line    int64  // from 1; 0 where it is about the whole
	Problem string // names what is expected, and the remedy where there is one
}

// Error gives the fault on one line.
func (f Fault) Error() string {
	if f.Line > 0 {
		return fmt.Sprintf("%s:%d: %s", f.File, f.Line, f.Problem)
	}
	return f.File + ": " + f.Problem
}

// Earlier is a signed checkpoint that was kept elsewhere.
type Earlier struct {
	Name   string
	Signed []byte
}

// Check says what an archive is held against.
type Check struct {
	Verifier note.Verifier // of the log
	Earlier  []Earlier
	// Table checks that a rule table is the one of the digest that names it; nil: it is
	// not checked.
	Table func(digest string, table []byte) error
	// Entry gives what is wrong with the body of an entry; nil: it is not looked at.
	Entry func(*Entry) []string
}

// Report is what became of a check.
type Report struct {
	Checkpoint Checkpoint // of the archive; zero if it is not to be trusted
	Entries    int64
	Tables     int
	Faults     []Fault // none: nothing was changed or removed; no more than the first hundred
}

// checking is a check under way.
type checking struct {
	Check
	archive fs.FS
	Report
}

// Verify checks an archive. An error says that it could not be read; what is wrong with
// it is in the report.
func Verify(archive fs.FS, check Check) (*Report, error) {
	c := &checking{Check: check, archive: archive}
	signed, err := readFile(archive, CheckpointFile, maxCheckpoint)
	if err != nil {
		return nil, err
	}
	checkpoint, err := OpenCheckpoint(signed, c.Verifier)
	if err != nil {
		c.fault(CheckpointFile, 0, "%v; ask for a new archive, and for the log's key from a source that you trust", err)
	}
	if err := c.tables(); err != nil { // before the entries, which may be judged by them
		return nil, err
	}
	tree, err := c.entries()
	if err != nil {
		return nil, err
	}
	c.Entries = tree.Size()
	if checkpoint.Origin != "" {
		c.Report.Checkpoint = checkpoint
		c.against(CheckpointFile, checkpoint, tree, true)
	}
	c.earlier(tree)
	return &c.Report, nil
}

func (c *checking) fault(file string, line int64, format string, args ...any) {
	if len(c.Faults) < maxFaults {
		c.Faults = append(c.Faults, Fault{file, line, fmt.Sprintf(format, args...)})
	}
}

func (c *checking) entries() (*Tree, error) {
	f, err := c.archive.Open(EntriesFile)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	tree, chain := &Tree{}, Chain{}
	lines := bufio.NewReaderSize(f, 64<<10)
	for number := int64(1); ; number++ {
		line, err := readLine(lines)
		switch {
		case err == io.EOF:
			return tree, nil
		case errors.Is(err, errLine):
			c.fault(EntriesFile, number, "%v; nothing after it was read", err)
			return tree, nil
		case err != nil:
			return nil, fmt.Errorf("%s: %w", EntriesFile, err)
		}
		if err := tree.Add(line); err != nil {
			return nil, err
		}
		c.line(&chain, number, line)
	}
}

func (c *checking) line(chain *Chain, number int64, line []byte) {
	e, err := ParseLine(line)
	if err != nil {
		chain.next++
		c.fault(EntriesFile, number, "%v; this line was damaged or edited: ask for a new archive", err)
		return
	}
	for _, wrong := range chain.Next(e) {
		c.fault(EntriesFile, number, "%s; an entry was removed, added or moved", wrong)
	}
	if c.Entry == nil {
		return
	}
	for _, wrong := range c.Entry(e) {
		c.fault(EntriesFile, number, "%s version %d: %s", e.Name, e.Version, wrong)
	}
}

var errLine = errors.New("this is not a whole line")

// readLine gives a line without its end; each must have one.
func readLine(r *bufio.Reader) ([]byte, error) {
	var line []byte
	for {
		part, err := r.ReadSlice('\n')
		if len(line)+len(part) > MaxLine+1 {
			return nil, fmt.Errorf("%w: it has more than %d bytes", errLine, MaxLine)
		}
		line = append(line, part...)
		switch {
		case err == nil:
			return line[:len(line)-1], nil
		case err == io.EOF && len(line) > 0:
			return nil, fmt.Errorf("%w: the file was cut off", errLine)
		case err != bufio.ErrBufferFull:
			return nil, err
		}
	}
}

// against holds the entries to a checkpoint: all of them, or those from before it.
func (c *checking) against(name string, p Checkpoint, tree *Tree, all bool) {
	switch root, err := tree.Root(min(p.Size, tree.Size())); {
	case err != nil:
		c.fault(name, 0, "%v", err)
	case p.Size > tree.Size():
		c.fault(name, 0, "it states %d entries, and %s has %d: entries were removed since, or the archive is not whole", p.Size, EntriesFile, tree.Size())
	case all && p.Size < tree.Size():
		c.fault(name, 0, "it states %d entries, and %s has %d: entries were added that nobody signed", p.Size, EntriesFile, tree.Size())
	case root != p.Root:
		c.fault(name, 0, "it states the root %s for the first %d entries, and those in %s have %s: one of them at least was changed, added or removed since it was signed", p.Root, p.Size, EntriesFile, root)
	}
}

func (c *checking) earlier(tree *Tree) {
	for _, e := range c.Earlier {
		p, err := OpenCheckpoint(e.Signed, c.Verifier)
		if err != nil {
			c.fault(e.Name, 0, "%v", err)
			continue
		}
		c.against(e.Name, p, tree, false)
	}
}

var digestForm = regexp.MustCompile(`^[0-9a-f]{64}$`)

func (c *checking) tables() error {
	list, err := fs.ReadDir(c.archive, TablesFolder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // no record names one, or the check of the records says so
	}
	if err != nil {
		return err
	}
	for _, f := range list {
		name := TablesFolder + "/" + f.Name()
		if !digestForm.MatchString(f.Name()) {
			c.fault(name, 0, "the name of a rule table is its digest, 64 hexadecimal digits: this file does not belong here")
			continue
		}
		table, err := readFile(c.archive, name, MaxTable)
		if err != nil {
			return err
		}
		c.Tables++
		if c.Table == nil {
			continue
		}
		if err := c.Table(f.Name(), table); err != nil {
			c.fault(name, 0, "%v; the table was changed: ask for a new archive", err)
		}
	}
	return nil
}

func readFile(archive fs.FS, name string, limit int64) ([]byte, error) {
	f, err := archive.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var b bytes.Buffer
	n, err := b.ReadFrom(io.LimitReader(f, limit+1))
	if err == nil && n > limit {
		err = fmt.Errorf("%s has more than %d bytes", name, limit)
	}
	return b.Bytes(), err
}
