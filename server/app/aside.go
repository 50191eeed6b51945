package app

import (
	"fmt"
	"os"
	"sync/atomic"

	"example.org/rootward/server/treatment"
)

// maxAside is how many bytes the files of sums of all streams have together. A site with
// stems of all sizes takes 12 kB for each active ingredient (measured), and up to three
// times that while a file is written anew.
const maxAside = 2 << 30

// asideFolder is where streams keep sums in files once they are many. It bounds those of
// all streams together. It is safe for concurrent use.
type asideFolder struct {
	path string // empty: the system's for temporary files
	most int64
	left atomic.Int64
}

func newAsideFolder(path string, most int64) *asideFolder {
	f := &asideFolder{path: path, most: most}
	f.left.Store(most)
	return f
}

// open makes a file without a name, which goes with the process at the latest.
func (f *asideFolder) open() (treatment.File, error) {
	file, err := os.CreateTemp(f.path, "rootward-sums-*")
	if err != nil {
		return nil, err
	}
	return &looseFile{File: file, folder: f, named: os.Remove(file.Name()) != nil}, nil
}

type looseFile struct {
	*os.File
	folder *asideFolder
	size   int64
	named  bool // where an open file cannot lose its name it does so once closed
}

// Write adds to the file's end, within what all files may have.
func (f *looseFile) Write(b []byte) (int, error) {
	n := int64(len(b))
	if f.folder.left.Add(-n) < 0 {
		f.folder.left.Add(n)
		return 0, fmt.Errorf("those of all streams may take %d bytes together", f.folder.most)
	}
	f.size += n
	return f.File.Write(b)
}

// Close closes the file and takes its name, if it still has one.
func (f *looseFile) Close() error {
	f.folder.left.Add(f.size)
	f.size = 0
	err := f.File.Close()
	if f.named {
		_ = os.Remove(f.Name())
	}
	return err
}
