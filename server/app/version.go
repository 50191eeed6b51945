package app

import (
	"crypto/rand"
	"crypto/sha256"
	"debug/elf"
	"encoding/base64"
	"encoding/hex"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/rs/zerolog"
)

// program is the file of the program that runs.
func program() string {
	path := "/proc/self/exe" // though another lies in its place by now
	if _, err := os.Stat(path); err != nil {
		path, _ = os.Executable() // empty: cannot be read
	}
	return path
}

// version names what a program decides by: equal for equal builds alone. One that cannot be
// read is like no other, not even after its next start, and a warning says so.
func version(log zerolog.Logger, path string) string {
	v, err := versionOf(path)
	if err != nil {
		log.Warn().Err(err).Str("program", path).Msg("this server cannot read its own program to tell which build it is: no other server will decide batches that are started here, nor will this one after a restart, and it decides none of others. Make the file readable and start anew; batches that wait then must be cancelled and submitted again")
		return rand.Text()
	}
	return v
}

// versionOf is the hash of the program that the linker left in it, if any, else one of the file.
func versionOf(path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	if id := buildID(file); id != "" {
		return id, nil
	}
	h := sha256.New()
	if _, err := io.Copy(h, io.NewSectionReader(file, 0, 1<<40)); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// buildID is the last part of the id that the go command has noted in ELF, a hash of the
// whole program; empty if there is none. Of the four parts in its form the first three are
// hashes, too: what -ldflags=-buildid=ID puts in its place may be the same in other builds.
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
	parts := strings.Split(strings.TrimRight(string(data[header:]), "\x00"), "/")
	if len(parts) != 4 || slices.ContainsFunc(parts, isNoHash) {
		return ""
	}
	return parts[3]
}

// isNoHash tells what the go command does not write for a hash: 15 bytes in the alphabet of
// RFC 4648 for URLs.
func isNoHash(part string) bool {
	hash, err := base64.RawURLEncoding.DecodeString(part)
	return err != nil || len(hash) != 15
}
