package api

import (
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	rpcstatus "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/batch"
)

// batchCodes are the codes of refusals that are no matter of the state of the batch.
var batchCodes = map[string]codes.Code{
	batch.UnknownBatch: codes.NotFound, batch.UnknownPage: codes.InvalidArgument,
	batch.ChunkDiffers: codes.AlreadyExists, batch.ResultsReplaced: codes.Aborted, batch.Stopping: codes.Unavailable,
}

// storeFault is an error that clients hear of as Internal and the log in full.
type storeFault struct{ error }

// GRPCStatus gives what clients hear.
func (storeFault) GRPCStatus() *status.Status { return status.Convert(Internal()) }

// batchRefused makes a status of what Batches say. What is wrong with the store is for
// the log.
func batchRefused(err error) error {
	var refusal interface{ Refusal() string }
	switch {
	case err == nil:
		return nil
	case errors.As(err, &refusal):
		code, ok := batchCodes[refusal.Refusal()]
		if !ok {
			code = codes.FailedPrecondition
		}
		return fail(code, Reason(refusal.Refusal()), nil, "%s", err)
	case isStatus(err) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
		return Status(err)
	}
	return storeFault{err}
}

// isStatus reports whether an error was made for a client, as an Evaluator's may be.
func isStatus(err error) bool {
	s, ok := status.FromError(err)
	return ok && s.Code() != codes.Unknown
}

// writeBatch writes how a batch stands.
func writeBatch(b *batch.Batch) (*inventoryv1.Batch, error) {
	p := &inventoryv1.Batch{
		BatchId: b.ID, Title: b.Title, State: inventoryv1.BatchState(b.State), Done: b.State.Done(), Error: stopped(b),
		NextChunk: b.NextChunk, Chunks: b.Chunks, Rows: b.Rows, RowsDecided: b.Decided, Passes: int32(b.Passes),
		Revision: int32(b.Revision), ResultDigest: b.ResultDigest, Waiting: b.Waiting,
		CreateTime: moment(b.Created), StartTime: moment(b.Started), EndTime: moment(b.Ended),
		Totals: &treatmentv1.Totals{
			Rows: b.Counts.Rows(), Prescribed: b.Counts.Prescribed, Deferred: b.Counts.Deferred,
			Undetermined: b.Counts.Undetermined, Rejected: b.Counts.Rejected,
		},
	}
	for _, h := range b.Hindrances {
		p.Hindrances = append(p.Hindrances, &inventoryv1.Hindrance{Server: h.Name, Problem: h.Problem, SinceTime: moment(h.Since)})
	}
	pinned := &inventoryv1.PinnedLaw{}
	if err := proto.Unmarshal(b.Pinned, pinned); err != nil {
		return nil, err
	}
	for _, t := range pinned.GetTables() {
		p.RuleSets = append(p.RuleSets, t.GetRef())
	}
	p.WaterLayers, p.Version = pinned.GetWaterLayers(), pinned.GetVersion()
	if len(b.Summary) == 0 {
		return p, nil
	}
	p.Summary = &treatmentv1.Summary{}
	return p, proto.Unmarshal(b.Summary, p.Summary)
}

// moment writes a time, and nothing for none.
func moment(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}

// asStatus is an error as it is told in a message.
func asStatus(err error) *rpcstatus.Status { return status.Convert(err).Proto() }

func writeResult(r *batch.Result) (*inventoryv1.ListResultsResponse, error) {
	p := &inventoryv1.ListResultsResponse{
		Index: r.Index, Stems: &treatmentv1.StemChunk{}, Prescriptions: &treatmentv1.PrescriptionChunk{},
		Cursor: cursor{r.Revision, r.Index}.String(),
	}
	return p, errors.Join(proto.Unmarshal(r.Data, p.Stems), proto.Unmarshal(r.Answer, p.Prescriptions))
}

// cursor is the last chunk that was received, of one revision of a batch.
type cursor struct {
	revision int
	index    int64
}

// String gives what a client sends back.
func (c cursor) String() string {
	return base64.RawURLEncoding.EncodeToString(fmt.Appendf(nil, "%d %d", c.revision, c.index))
}

// cursor reads a cursor; an empty one stands before the first chunk.
func (f *faults) cursor(s string) cursor {
	c := cursor{index: -1}
	if s == "" {
		return c
	}
	text, err := base64.RawURLEncoding.DecodeString(s)
	if err == nil {
		_, err = fmt.Sscanf(string(text), "%d %d", &c.revision, &c.index)
	}
	f.unless(err == nil && c.String() == s && c.index >= 0, "cursor", "%s is none that ListResults gave: send the last one that was received, or none", quoted(s))
	return c
}

// outcomes is those that are wanted; none stands for all.
type outcomes map[treatmentv1.Outcome]bool

func (f *faults) outcomes(list []treatmentv1.Outcome) outcomes {
	wanted := outcomes{}
	for i, o := range list {
		_, known := treatmentv1.Outcome_name[int32(o)]
		f.unless(known && o != 0, fmt.Sprintf("outcomes[%d]", i), "%d is none: use PRESCRIBED, DEFERRED, UNDETERMINED or REJECTED", o)
		wanted[o] = true
	}
	return wanted
}

// in reports whether a chunk with these counts has a row that is wanted.
func (o outcomes) in(c *batch.Counts) bool {
	return len(o) == 0 ||
		o[treatmentv1.Outcome_OUTCOME_PRESCRIBED] && c.Prescribed > 0 || o[treatmentv1.Outcome_OUTCOME_DEFERRED] && c.Deferred > 0 ||
		o[treatmentv1.Outcome_OUTCOME_UNDETERMINED] && c.Undetermined > 0 || o[treatmentv1.Outcome_OUTCOME_REJECTED] && c.Rejected > 0
}

var uuid = regexp.MustCompile(`^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$`)

// uuid reads a UUID (RFC 9562), in small letters.
func (f *faults) uuid(field, s string) string {
	low := strings.ToLower(s)
	f.unless(uuid.MatchString(low), field, "%s is not a UUID, as \"6ba7b810-9dad-41d1-80b4-00c04fd430c8\": make one, and keep it to ask again", quoted(s))
	return low
}

func (f *faults) batchID(s string) {
	f.required("batch_id", s, "name the batch, as CreateBatch gave it")
	f.keepable("batch_id", s)
}

// keepable refuses a text that PostgreSQL does not take.
func (f *faults) keepable(field, s string) {
	f.unless(!strings.Contains(s, "\x00"), field, "holds the character U+0000: leave it out")
}

// stopped says how a batch ended that did not succeed.
func stopped(b *batch.Batch) *rpcstatus.Status {
	switch b.State {
	case batch.Cancelled:
		return asStatus(fail(codes.Canceled, Cancelled, nil, "the batch was cancelled"))
	case batch.Failed:
		return asStatus(fail(codes.FailedPrecondition, BatchFailed, nil, "%s", b.Problem))
	}
	return nil
}
