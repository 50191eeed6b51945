package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// A bound program is this program, the text of a table, and a trailer that says how
// long the text is and what its SHA-256 is. The loader of the system reads a program
// by its head and passes over what follows; a hash of the file covers all of it.
const (
	magic       = "rootward-table-1" // 16 bytes
	trailerSize = len(magic) + 8 + sha256.Size
	maxBound    = 1 << 20 // bytes of text, as tabletext has it
)

var (
	errUnbound = errors.New("it holds no table; bind one with --bind FILE OUT")
	errDamaged = errors.New("the table that it holds is damaged; bind it again")
)

func trailer(text []byte) []byte {
	t := binary.BigEndian.AppendUint64([]byte(magic), uint64(len(text)))
	sum := sha256.Sum256(text)
	return append(t, sum[:]...)
}

// readBound gives the text that a program holds, and how long the program itself is.
// A program without one gives errUnbound.
func readBound(program *os.File) (text []byte, length int64, err error) {
	info, err := program.Stat()
	if err != nil {
		return nil, 0, err
	}
	size := info.Size()
	end := make([]byte, min(int64(trailerSize), size))
	if _, err := program.ReadAt(end, size-int64(len(end))); err != nil {
		return nil, 0, err
	}
	if !bytes.HasPrefix(end, []byte(magic)) {
		return nil, size, errUnbound
	}
	textSize := binary.BigEndian.Uint64(end[len(magic):])
	if textSize > maxBound || int64(textSize)+int64(trailerSize) > size {
		return nil, 0, errDamaged
	}
	length = size - int64(trailerSize) - int64(textSize)
	text = make([]byte, textSize)
	if _, err := program.ReadAt(text, length); err != nil {
		return nil, 0, err
	}
	if !bytes.Equal(trailer(text), end) {
		return nil, 0, errDamaged
	}
	return text, length, nil
}

// bind writes a copy of the program that holds the text. Only a whole one appears
// under the name out; what was there before is replaced.
func bind(program *os.File, text []byte, out string) (err error) {
	_, length, err := readBound(program)
	if err != nil && !errors.Is(err, errUnbound) {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(out), "."+filepath.Base(out)+"-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = f.Close()
			_ = os.Remove(f.Name())
		}
	}()
	whole := io.MultiReader(io.NewSectionReader(program, 0, length), bytes.NewReader(text), bytes.NewReader(trailer(text)))
	if _, err := io.Copy(f, whole); err != nil {
		return fmt.Errorf("writing %s: %w", out, err)
	}
	if err := errors.Join(f.Chmod(0o755), f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("writing %s: %w", out, err)
	}
	return os.Rename(f.Name(), out)
}

// self opens the file that is running. /proc/self/exe is that very file, even when
// another was put under its name since; where there is no /proc, the name serves.
func self() (*os.File, error) {
	if f, err := os.Open("/proc/self/exe"); err == nil {
		return f, nil
	}
	name, err := os.Executable()
	if err != nil {
		return nil, err
	}
	return os.Open(name)
}
