package batch

import (
	"context"
	"errors"
	"iter"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
)

// What a Store says when it does not do as it is asked.
var (
	ErrUnknown = errors.New("no such batch")
	ErrState   = errors.New("the batch is not in the state that this needs")
	ErrDiffers = errors.New("something else is kept in this place")
)

// Pass is one go over all chunks of a batch. The second has shares.
type Pass struct {
	Batch    string
	Revision int
	Number   int // from 1
}

// Place is where a batch stands among all, by age.
type Place struct {
	Created time.Time
	ID      string
}

// Progress is what changes while a batch is decided.
type Progress struct {
	State   State
	Pass    Pass
	Decided int64
	// Hindered is how many servers have noted what hinders them, alive or not.
	Hindered int
}

// Store keeps batches and the queue of jobs over them. What it has confirmed survives
// the end of the process.
//
// When the machine loses power, chunks of the last moments may be lost that are not
// followed by anything else: those of Put before Begin, which counts them then, and
// those of Keep with the jobs that made them, which are done again. Everything else
// survives that, too, and so does what came before it. So a disk need not be waited
// for at each chunk.
//
// ErrUnknown, ErrState and ErrDiffers come unwrapped from it.
type Store interface {
	// Create keeps a new batch, or gives the one that has its request id.
	Create(ctx context.Context, b *Batch) (*Batch, error)
	Get(ctx context.Context, id string) (*Batch, error)
	// List gives batches before a place, the newest first; from the newest on, if the
	// place is zero. They have no requests, pinned bytes and summaries.
	List(ctx context.Context, size int, before Place) ([]*Batch, error)
	// Progress is cheap enough to be asked a few times a second.
	Progress(ctx context.Context, id string) (Progress, error)

	// Ahead lets somebody decide chunks of a batch in Uploading ahead. It reports false if
	// somebody else does, or did.
	Ahead(ctx context.Context, id, by string) (bool, error)
	// Put keeps a chunk of a batch in Uploading, or ErrState. A different one in its
	// place is ErrDiffers. The answer is kept with it, if there is one, for the first pass.
	// The memory of both is the caller's again afterwards.
	Put(ctx context.Context, id string, c *Chunk, d *Draft) error
	// NextChunk gives the first that is not kept, if all before from are.
	NextChunk(ctx context.Context, id string, from int64) (int64, error)
	// Gap gives the first chunk whose rows do not follow those of the chunks before it,
	// and the row that is due there; -1 if there is none.
	Gap(ctx context.Context, id string) (index, row int64, err error)

	// Begin starts a revision: the state becomes Running in pass 1, with what was
	// pinned. Chunks that were decided ahead, by what is named, count as decided; answers
	// by others are dropped. ErrState if the state and revision are not those of b any
	// more, ErrDiffers if it has not as many chunks.
	Begin(ctx context.Context, b *Batch, next Revision) error
	// Queued notes that the jobs of a pass are in the queue.
	Queued(ctx context.Context, p Pass) error
	// Running gives the passes of all batches in Running.
	Running(ctx context.Context) ([]Unfinished, error)
	// Inputs give what a run is opened with. ErrState if the pass is not the one that
	// is due; the same holds for all that take a Pass.
	Inputs(ctx context.Context, p Pass) (*Inputs, error)
	// Due gives a chunk's bytes, nil if it has been decided in this pass. They lie in the
	// memory of into, if that is enough.
	Due(ctx context.Context, p Pass, index int64, into []byte) ([]byte, error)
	// Keep keeps what became of a chunk, once: it reports false if that was kept before.
	Keep(ctx context.Context, p Pass, index int64, a Answer) (bool, error)
	// Hinder notes what keeps a server from deciding a pass, in place of what it noted
	// before. Get and List give it while the batch is in this pass.
	Hinder(ctx context.Context, p Pass, h Hindrance) error
	// Unhinder takes back what a server noted of a batch.
	Unhinder(ctx context.Context, batch, server string) error
	// Left is how many chunks of the pass are to be decided.
	Left(ctx context.Context, p Pass) (int64, error)
	// Tallies gives those of a pass, in the order of the chunks.
	Tallies(ctx context.Context, p Pass) iter.Seq2[[]byte, error]
	// Sums gives the SHA-256 of each answer of a pass, in the order of the chunks.
	Sums(ctx context.Context, p Pass) ([][]byte, error)
	// Advance ends a pass that another must follow; its answers are dropped.
	Advance(ctx context.Context, p Pass, shares []byte) error
	// Succeed ends a batch and lets the answers of this pass be served; older ones are
	// dropped.
	Succeed(ctx context.Context, p Pass, summary []byte, digest string, ended time.Time) error
	// Stop ends a batch without success, if its state and revision are those of b.
	Stop(ctx context.Context, b *Batch, to State, problem string, ended time.Time) error
	// Delete removes a batch that is in Uploading or has ended.
	Delete(ctx context.Context, id string) error
	// Served gives the pass whose answers are given; ErrState if there is none.
	Served(ctx context.Context, id string) (Pass, error)
	// Result gives the first answer of a pass after a chunk's number, nil after the last.
	Result(ctx context.Context, p Pass, after int64) (*Result, error)

	// Alive notes that a server lives, and names all that gave a sign within a time.
	Alive(ctx context.Context, server string, within time.Duration) ([]string, error)
	// Gone notes that a server has ended.
	Gone(ctx context.Context, server string) error
	// Queue opens the queue of jobs.
	Queue(c *river.Config) (Queue, error)
}

// Revision is what Begin sets.
type Revision struct {
	Pass         Pass
	Chunks, Rows int64
	Pinned       []byte
	Ahead        string
	Started      time.Time
}

// Unfinished is a pass that is due.
type Unfinished struct {
	Pass    Pass
	Chunks  int64
	Queued  bool
	Started time.Time
}

// Inputs is what a run is opened with.
type Inputs struct {
	Request, Pinned, Shares []byte
	Queued                  bool // noted for the pass
}

// Queue is what the engine needs of a River client, whatever its database.
type Queue interface {
	Start(ctx context.Context) error
	Stop(ctx context.Context) error
	StopAndCancel(ctx context.Context) error
	InsertMany(ctx context.Context, jobs []river.InsertManyParams) ([]*rivertype.JobInsertResult, error)
	JobList(ctx context.Context, params *river.JobListParams) (*river.JobListResult, error)
	Rescue(ctx context.Context, params *riverdriver.JobRescueManyParams) error
}
