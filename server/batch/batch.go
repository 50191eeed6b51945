package batch

import "time"

// State is how far a batch is; the numbers are those of
// rootward.inventory.v1.BatchState.
type State int32

// The states.
const (
	Uploading State = iota + 1
	Running
	Succeeded
	Cancelled
	Failed
)

// Done reports whether the batch has ended, one way or another.
func (s State) Done() bool { return s >= Succeeded }

// Batch is how a batch stands.
type Batch struct {
	ID           string
	RequestID    string
	Title        string
	State        State
	Problem      string // why it failed
	NextChunk    int64  // the first that is not kept
	Chunks, Rows int64  // kept
	Decided      int64  // rows, each counted once a pass
	Passes       int    // that are due, as far as is known: 1 or 2; 0 before the start
	Counts       Counts // of the pass at hand, or of the last
	Request      []byte
	Pinned       []byte // nil before the start
	Summary      []byte // nil before it succeeded
	ResultDigest string // DigestOf its answers; empty before it succeeded
	Revision     int    // counts its retries
	Hindrances   []Hindrance
	Waiting      bool // every server is hindered: nobody decides it
	Created      time.Time
	Started      time.Time // of the last start or retry; zero before
	Ended        time.Time // zero before
}

// Chunk is rows as they were uploaded.
type Chunk struct {
	Index    int64 // from 0
	FirstRow int64 // from 1
	Rows     int64
	Data     []byte // of the caller of Put: not kept after it
	Read     any    // what the caller has read Data as, in the Evaluator's own form; nil: nothing
	// Room is memory that a store may use while it keeps the chunk, and makes larger for the
	// next; nil: there is none.
	Room *[]byte
	// Ahead gives what answers the chunk as it is kept, of the same batch, and is asked while
	// others are received; nil: nothing does.
	Ahead func() *Ahead
}

// Draft is the answer to a chunk of a batch that has not been started.
type Draft struct {
	By     string // what the store let decide ahead
	Answer Answer
}

// Result is the rows of a chunk with their answers.
type Result struct {
	Index    int64
	Revision int    // of the batch, whose answer this is
	Data     []byte // as uploaded
	Answer   []byte
	Counts   Counts
}
