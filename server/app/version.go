package app

import (
	"crypto/rand"
	"crypto/sha256"
	"debug/elf"
	"encoding/hex"
	"io"
	"os"
	"strings"
)

// version names what this program decides by: equal for equal builds alone. Where the
// linker left its own hash of the program that is it, else one of the file; a program that
// cannot be read is like no other, not even after its next start.
func version() string {
	path := "/proc/self/exe" // the one that runs, though another lies in its place by now
	if _, err := os.Stat(path); err != nil {
		path, _ = os.Executable() // empty: cannot be read
	}
	return versionOf(path)
}

func versionOf(path string) string {
	file, err := os.Open(path)
	if err != nil {
		return rand.Text()
	}
	defer file.Close()
	if id := buildID(file); id != "" {
		return id
	}
	h := sha256.New()
	if _, err := io.Copy(h, io.NewSectionReader(file, 0, 1<<40)); err != nil {
		return rand.Text()
	}
	return hex.EncodeToString(h.Sum(nil))
}

// buildID is the last part of the id that Go's linker notes in ELF, a hash of the whole
// program; empty if there is none.
func buildID(file io.ReaderAt) string {
	const header = 16 // sizes, type, and the name "Go"
	program, err := elf.NewFile(file)
	if err != nil {
		return ""
	}
	note := program.Section(".note.go.buildid")
	if note == nil {
		return ""
	}
	data, err := note.Data()
	if err != nil || len(data) <= header {
		return ""
	}
	id := strings.TrimRight(string(data[header:]), "\x00")
	return id[strings.LastIndexByte(id, '/')+1:]
}
