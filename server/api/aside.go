package api

import (
	"os"

	"google.golang.org/grpc/codes"

	"example.org/rootward/server/treatment"
)

// asideRoom is how many sums a stream keeps where. Tests make it little.
var asideRoom treatment.Room

// newAside makes what keeps sums of a stream in a file of a folder, once they are many;
// the empty name is the system's folder for temporary files.
func newAside(folder string) *treatment.Aside {
	return treatment.NewAside(func() (treatment.File, error) { return openLoose(folder) }, asideRoom)
}

// looseFile is a file without a name, which goes with the process at the latest.
type looseFile struct{ *os.File }

func openLoose(folder string) (treatment.File, error) {
	f, err := os.CreateTemp(folder, "rootward-sums-*")
	if err != nil {
		return nil, err
	}
	_ = os.Remove(f.Name()) // where an open file cannot lose its name it does so once closed
	return looseFile{f}, nil
}

// Close closes the file and takes its name, if it still has one.
func (f looseFile) Close() error {
	err := f.File.Close()
	_ = os.Remove(f.Name())
	return err
}

// tidy puts sums aside where there are many.
func (st *stemStream) tidy() error { return asideFailed(st.aside.Tidy()) }

// usesOf lists what was counted on a site that has a planner.
func (st *stemStream) usesOf(s *plannedSite) ([]treatment.Use, error) {
	if err := s.planner.Gather(); err != nil {
		return nil, asideFailed(err)
	}
	uses := s.planner.Uses()
	return uses, st.tidy()
}

// asideFailed says what became of a stream whose sums could not be kept.
func asideFailed(err error) error {
	if err == nil {
		return nil
	}
	return fail(codes.ResourceExhausted, NoRoom, nil,
		"the sums of the stream's sites could not be kept in a file of the server, and no summary can be given: %v. Have room made in the folder of --data, without it in that of TMPDIR, or send the sites in several streams", err)
}
