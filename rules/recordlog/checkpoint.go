package recordlog

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// maxCheckpoint bounds a signed checkpoint in bytes.
const maxCheckpoint = 64 << 10

// Checkpoint says how a log stood: so many entries, with this root.
type Checkpoint struct {
	Origin string // which log
	Size   int64
	Root   tlog.Hash
}

// Text gives the checkpoint without a signature.
func (c Checkpoint) Text() string {
	return fmt.Sprintf("%s\n%d\n%s\n", c.Origin, c.Size, base64.StdEncoding.EncodeToString(c.Root[:]))
}

// ParseCheckpoint reads what Text writes, and nothing else.
func ParseCheckpoint(text string) (Checkpoint, error) {
	lines := strings.Split(text, "\n")
	if len(lines) != 4 || lines[0] == "" {
		return Checkpoint{}, errors.New("a checkpoint has three lines: origin, size and root")
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil || size < 0 {
		return Checkpoint{}, fmt.Errorf("size %.40q of the checkpoint is not a number from 0 on", lines[1])
	}
	root, err := base64.StdEncoding.DecodeString(lines[2])
	c := Checkpoint{Origin: lines[0], Size: size}
	if err != nil || len(root) != len(c.Root) {
		return Checkpoint{}, fmt.Errorf("root %.80q of the checkpoint is not a SHA-256 in base64", lines[2])
	}
	copy(c.Root[:], root)
	if c.Text() != text {
		return Checkpoint{}, errors.New("the checkpoint is not written as logs write it")
	}
	return c, nil
}

// Sign gives the signed checkpoint.
func (c Checkpoint) Sign(signer note.Signer) ([]byte, error) {
	return note.Sign(&note.Note{Text: c.Text()}, signer)
}

// OpenCheckpoint reads a signed checkpoint. It must be of the log whose key is given.
func OpenCheckpoint(signed []byte, of note.Verifier) (Checkpoint, error) {
	if len(signed) > maxCheckpoint {
		return Checkpoint{}, fmt.Errorf("the checkpoint has more than %d bytes", maxCheckpoint)
	}
	n, err := note.Open(signed, note.VerifierList(of))
	if err != nil {
		return Checkpoint{}, fmt.Errorf("the checkpoint is not signed by %s, key %08x: %w; it was changed, or belongs to another log", of.Name(), of.KeyHash(), err)
	}
	c, err := ParseCheckpoint(n.Text)
	if err == nil && c.Origin != of.Name() {
		err = fmt.Errorf("the checkpoint is of the log %.100q, not of %s", c.Origin, of.Name())
	}
	return c, err
}
