package batch

import "fmt"

// Refusal is why something is not done. It says so by a method, as other packages
// do, too: an Evaluator may refuse as well.
type Refusal struct{ word, text string }

// Error implements error.
func (r *Refusal) Error() string { return r.text }

// Refusal gives the reason in one word.
func (r *Refusal) Refusal() string { return r.word }

// The words of refusals.
const (
	UnknownBatch    = "UNKNOWN_BATCH"
	NotUploading    = "NOT_UPLOADING"    // it has been started, or has ended
	NotEnded        = "NOT_ENDED"        // it is being decided
	NoResults       = "NO_RESULTS"       // it has never succeeded
	ChunkDiffers    = "CHUNK_DIFFERS"    // another is kept in its place
	ChunksMissing   = "CHUNKS_MISSING"   // or too many
	RowsMissing     = "ROWS_MISSING"     // the chunks' rows do not follow each other, or are not as many
	ResultsReplaced = "RESULTS_REPLACED" // by those of a retry, while they were read
	Stopping        = "STOPPING"         // the server is
	UnknownPage     = "UNKNOWN_PAGE"     // the token is none that was given
)

func refuse(word, format string, args ...any) error {
	return &Refusal{word, fmt.Sprintf(format, args...)}
}

func unknown(id string) error {
	return refuse(UnknownBatch, "there is no batch %q: it was deleted, or never created; ListBatches names all", id)
}

// about puts what a store says of a batch into a refusal.
func about(id string, err error) error {
	if err == ErrUnknown {
		return unknown(id)
	}
	return err
}
