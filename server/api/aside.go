package api

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"sync/atomic"

	"google.golang.org/grpc/codes"

	"example.org/rootward/server/treatment"
)

// asideRoom is how many sums a stream keeps where. Tests make it little.
var asideRoom treatment.Room

// MaxAside is how many bytes the files of sums of all streams of a server have together.
const MaxAside = 2 << 30

// AsideFolder is where streams keep sums in files once they are many. It bounds those of
// all streams together. It is safe for concurrent use.
type AsideFolder struct {
	path string
	most int64
	left atomic.Int64
}

// NewAsideFolder keeps files in a folder, or with the empty name in the system's for
// temporary files, of so many bytes together.
func NewAsideFolder(path string, most int64) *AsideFolder {
	f := &AsideFolder{path: path, most: most}
	f.left.Store(most)
	return f
}

// newAside makes what keeps the sums of a stream.
func newAside(folder *AsideFolder) *treatment.Aside {
	return treatment.NewAside(func() (treatment.File, error) { return folder.open() }, asideRoom)
}

// looseFile is a file without a name, which goes with the process at the latest.
type looseFile struct {
	*os.File
	folder *AsideFolder
	size   int64
	named  bool // where an open file cannot lose its name it does so once closed
}

func (f *AsideFolder) open() (treatment.File, error) {
	file, err := os.CreateTemp(f.path, "rootward-sums-*")
	if err != nil {
		return nil, err
	}
	return &looseFile{File: file, folder: f, named: os.Remove(file.Name()) != nil}, nil
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

// usesOf lists what was counted on a site that has a planner.
func (st *stemStream) usesOf(s *plannedSite) ([]treatment.Use, error) {
	if err := s.planner.Gather(); err != nil {
		return nil, err
	}
	uses := s.planner.Uses()
	return uses, st.aside.Tidy()
}

// noRoom is why a file could not be made or written, without its place: that is the
// server's own. It is nil if that is not what failed.
func noRoom(err error) error {
	room := (*treatment.RoomError)(nil)
	if !errors.As(err, &room) {
		return nil
	}
	if file := (*fs.PathError)(nil); errors.As(err, &file) {
		return file.Err
	}
	return room.Why
}

// asideFailed says what became of a stream whose sums could not be kept.
func asideFailed(err error) error {
	if err == nil {
		return nil
	}
	if why := noRoom(err); why != nil {
		return fail(codes.ResourceExhausted, NoRoom, nil,
			"the sums of the stream's sites could not be kept in a file of the server, and no summary can be given: %v. Have room made in the folder of --data, without it in that of TMPDIR, or send the sites in several streams", why)
	}
	return fail(codes.DataLoss, SumsLost, nil, "no summary can be given: %v. Do not use the answers; send the stream again, and if that fails, too, have the disk of the server looked at", err)
}

// asideOfBatch is asideFailed for a batch, which is summed up later.
func asideOfBatch(err error) error {
	if why := noRoom(err); why != nil {
		return wanting{fmt.Errorf("the sums of the batch's sites could not be kept in a file of the server: %w; make room in the folder of --data", why)}
	}
	return err
}
