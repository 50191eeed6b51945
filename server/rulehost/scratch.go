package rulehost

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

// scratch is the server's own folder in the temporary one. Each plugin has a folder
// of mode 0700 below it, for its socket alone. It is there while a plugin is, and
// locked by the server that uses it, so that another can tell what a killed server
// left behind.
type scratch struct {
	mu    sync.Mutex
	swept bool
	dir   string
	lock  *os.File // the folder itself
	users int
}

const (
	scratchPrefix = "rootward-"
	// unlockedPrefix begins the name of a folder that is not locked yet.
	unlockedPrefix = scratchPrefix + "new-"
	// unlockedFor is longer than a server takes to lock its folder.
	unlockedFor = time.Minute
)

// A room is a folder for one plugin's socket.
type room struct {
	dir   string
	left  chan struct{} // closed by leave
	leave func()        // removes the folder with all that is in it
}

func (s *scratch) room() (*room, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	dir, err := s.makeRoom()
	if err != nil {
		s.closeUnused()
		return nil, fmt.Errorf("no folder for its socket: %w; see that the temporary folder can be written to", err)
	}
	s.users++
	r := &room{dir: dir, left: make(chan struct{})}
	r.leave = sync.OnceFunc(func() {
		close(r.left)
		s.leave(dir)
	})
	return r, nil
}

func (s *scratch) makeRoom() (string, error) {
	if s.lock == nil {
		if err := s.open(socketFolder(os.TempDir())); err != nil {
			return "", err
		}
	}
	return os.MkdirTemp(s.dir, "")
}

func (s *scratch) leave(dir string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	_ = os.RemoveAll(dir) // what stays is swept by the next server
	s.users--
	s.closeUnused()
}

// open makes the folder, locks it, and only then gives it the name by which others
// look for folders that nobody holds.
func (s *scratch) open(temporary string) error {
	if !s.swept {
		sweep(temporary)
		s.swept = true
	}
	made, err := os.MkdirTemp(temporary, unlockedPrefix)
	if err != nil {
		return err
	}
	lock, err := os.Open(made)
	if err != nil {
		return err
	}
	dir := filepath.Join(temporary, fmt.Sprintf("%s%d-%s", scratchPrefix, os.Getpid(), strings.TrimPrefix(filepath.Base(made), unlockedPrefix)))
	if err := unix.Flock(int(lock.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		return fmt.Errorf("locking %s: %w", made, err)
	}
	if err := os.Rename(made, dir); err != nil {
		return err
	}
	s.dir, s.lock = dir, lock
	return nil
}

func (s *scratch) closeUnused() {
	if s.users > 0 || s.lock == nil {
		return
	}
	_ = os.RemoveAll(s.dir)
	_ = s.lock.Close()
	s.lock = nil
}

// sweep removes the folders of servers that were killed: those that nobody has
// locked. Those of other users cannot be opened, and stay.
func sweep(temporary string) {
	folders, _ := filepath.Glob(filepath.Join(temporary, scratchPrefix+"*"))
	for _, dir := range folders {
		if isScratch(dir) && !isLocked(dir) {
			_ = os.RemoveAll(dir)
		}
	}
}

// isScratch tells a server's folder from what happens to have such a name, and from
// one that is being made.
func isScratch(dir string) bool {
	info, err := os.Lstat(dir)
	if err != nil || !info.IsDir() || info.Mode().Perm() != 0o700 {
		return false
	}
	name := filepath.Base(dir)
	if strings.HasPrefix(name, unlockedPrefix) {
		return time.Since(info.ModTime()) > unlockedFor
	}
	var pid, random uint64
	n, err := fmt.Sscanf(name, scratchPrefix+"%d-%d", &pid, &random)
	return n == 2 && err == nil
}

func isLocked(dir string) bool {
	f, err := os.Open(dir)
	if err != nil {
		return true
	}
	defer f.Close()
	return unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB) != nil
}

// A room holds one socket in a folder. Beyond these limits a plugin is stopped.
const (
	maxRoomBytes = 1 << 20
	maxRoomFiles = 64
)

// errFilled says that a plugin filled its room.
var errFilled error = &excessError{fmt.Errorf("wrote more than %d files or %d bytes into the folder of its socket, where it has no business to write; ask its publisher", maxRoomFiles, maxRoomBytes)}

// overfull reports whether the room holds more than a socket needs.
func (r *room) overfull() bool {
	files, bytes := 0, int64(0)
	err := filepath.WalkDir(r.dir, func(_ string, entry fs.DirEntry, err error) error {
		if err != nil {
			return nil // it is being removed
		}
		files++
		if info, err := entry.Info(); err == nil && info.Mode().IsRegular() {
			bytes += info.Size()
		}
		if files > maxRoomFiles || bytes > maxRoomBytes {
			return errFilled
		}
		return nil
	})
	return err != nil
}
