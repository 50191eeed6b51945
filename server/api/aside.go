package api

import (
	"errors"
	"fmt"
	"io/fs"

	"google.golang.org/grpc/codes"

	"example.org/rootward/server/treatment"
)

// asideRoom is how many sums a stream keeps where. Tests make it little.
var asideRoom treatment.Room

// OpenAside opens a file for sums of a stream.
type OpenAside func() (treatment.File, error)

// newAside makes what keeps the sums of a stream; nil, which keeps them in memory, if
// there is no file for them.
func newAside(open OpenAside) *treatment.Aside {
	if open == nil {
		return nil
	}
	return treatment.NewAside(open, asideRoom)
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
