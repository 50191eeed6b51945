package api

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	"example.org/rootward/server/treatment"
)

// Domain is the domain of the ErrorInfo that every error carries.
const Domain = "rootward"

// Reason says in one word what kind of error it is, for programs.
type Reason string

// The reasons.
const (
	InvalidRequest  Reason = "INVALID_REQUEST"    // its fields are listed as BadRequest
	TooMany         Reason = "TOO_MANY"           // metadata: field, given, limit
	StreamOrder     Reason = "STREAM_ORDER"       // a message of a stream is not the one that is due
	RuleSetNotFound Reason = "RULE_SET_NOT_FOUND" // metadata: rule_set_id
	UnknownMethod   Reason = "UNKNOWN_METHOD"     // metadata: method
	Cancelled       Reason = "CANCELLED"
	DeadlinePassed  Reason = "DEADLINE_PASSED"
	Transport       Reason = "TRANSPORT" // a message could not be carried
	InternalFault   Reason = "INTERNAL"
	ChunkDamaged    Reason = "CHUNK_DAMAGED" // its bytes are not those of its checksum
	NoWater         Reason = "NO_WATER"      // the server has no layers of water
	NoRoom          Reason = "NO_ROOM"       // the server could not keep the sums of a stream in a file
	SumsLost        Reason = "SUMS_LOST"     // that file does not hold what was written
)

// The reasons for which the rule sets are not changed, compared or tried. Beside
// FixedLaw and RulesFolder they are the words of a RuleHost.
const (
	FixedLaw         Reason = "FIXED_LAW"         // the server keeps no folder of releases
	RulesFolder      Reason = "RULES_FOLDER"      // something is wrong with the folder
	ChangesOff       Reason = "CHANGES_OFF"       // the server does not accept changes
	UnknownDigest    Reason = "UNKNOWN_DIGEST"    // of no admitted table
	NotEligible      Reason = "NOT_ELIGIBLE"      // the release cannot be activated
	NotCompared      Reason = "NOT_COMPARED"      // CompareRuleSets was not called for the pair
	ChangedMeanwhile Reason = "CHANGED_MEANWHILE" // another table is active than the caller takes for it
	NothingBefore    Reason = "NOTHING_BEFORE"    // no release to roll back to
	Overlap          Reason = "OVERLAP"           // two sets would state one layer's law of one place
	NotActive        Reason = "NOT_ACTIVE"        // no release of the rule set is active
)

// The reasons of InventoryService, beside the words of package batch.
const (
	NoBatches       Reason = "NO_BATCHES"       // the server keeps none
	RequestDiffers  Reason = "REQUEST_DIFFERS"  // another batch was created under the request id
	BatchFailed     Reason = "BATCH_FAILED"     // it cannot be decided
	BatchUnreadable Reason = "BATCH_UNREADABLE" // what is kept of it is not what this server writes
)

// The reasons of CampaignService.
const (
	NoCampaigns   Reason = "NO_CAMPAIGNS"    // the server keeps none
	ThingNotFound Reason = "THING_NOT_FOUND" // metadata: name
	ThingChanged  Reason = "THING_CHANGED"   // metadata: name; another version is the last one
	NotDue        Reason = "NOT_DUE"         // what is kept of the site does not let it be kept; metadata: name
)

// facts are what an ErrorInfo says beside its reason.
type facts map[string]string

// fail makes a status. Every error of this package comes from here or through
// Status, so that each carries an ErrorInfo.
func fail(code codes.Code, reason Reason, with facts, format string, args ...any) error {
	return detailed(status.Newf(code, format, args...), &errdetails.ErrorInfo{
		Reason: string(reason), Domain: Domain, Metadata: with,
	})
}

func detailed(s *status.Status, details ...protoadapt.MessageV1) error {
	with, err := s.WithDetails(details...)
	if err != nil {
		// Only a status without an error, or a detail that is no message, gets here.
		return s.Err()
	}
	return with.Err()
}

// maxListed is how many violations an error lists: they travel in the trailers,
// where many clients and proxies accept little.
const maxListed = 200

// invalid makes the error for a request with faults, which are sorted.
func invalid(faults []treatment.FieldFault) error {
	bad := &errdetails.BadRequest{}
	for _, f := range faults[:min(len(faults), maxListed)] {
		bad.FieldViolations = append(bad.FieldViolations, &errdetails.BadRequest_FieldViolation{Field: f.Field, Description: f.Problem})
	}
	message := fmt.Sprintf("%s: %s", faults[0].Field, faults[0].Problem)
	if n := len(faults); n > 1 {
		message = fmt.Sprintf("%d fields are wrong: %s", n, fields(faults))
	}
	info := &errdetails.ErrorInfo{
		Reason: string(InvalidRequest), Domain: Domain,
		Metadata: facts{"violations": fmt.Sprint(len(faults)), "listed": fmt.Sprint(len(bad.FieldViolations))},
	}
	return detailed(status.New(codes.InvalidArgument, message), info, bad)
}

func fields(faults []treatment.FieldFault) string {
	const shown = 5
	var names []string
	for _, f := range faults[:min(len(faults), shown)] {
		names = append(names, f.Field)
	}
	if len(faults) > shown {
		names = append(names, "...")
	}
	return strings.Join(names, ", ")
}

// tooMany refuses what is larger than a limit.
func tooMany(field string, given, limit int, remedy string) error {
	return fail(codes.ResourceExhausted, TooMany,
		facts{"field": field, "given": fmt.Sprint(given), "limit": fmt.Sprint(limit)},
		"%s: %d are given, at most %d can be: %s", field, given, limit, remedy)
}

// Status gives any error an ErrorInfo, and keeps what is not meant for a client
// from it. It returns nil for nil.
func Status(err error) error {
	if err == nil {
		return nil
	}
	switch {
	case errors.Is(err, context.Canceled):
		return fail(codes.Canceled, Cancelled, nil, "the call was cancelled")
	case errors.Is(err, context.DeadlineExceeded):
		return fail(codes.DeadlineExceeded, DeadlinePassed, nil, "the deadline passed before the answer was ready: ask for fewer rows, or give more time")
	}
	s, ok := status.FromError(err)
	if !ok || s.Code() == codes.Unknown {
		return Internal()
	}
	if hasInfo(s) {
		return err
	}
	return fail(s.Code(), reasonOf(s.Code()), nil, "%s", s.Message())
}

func hasInfo(s *status.Status) bool {
	for _, d := range s.Details() {
		if _, ok := d.(*errdetails.ErrorInfo); ok {
			return true
		}
	}
	return false
}

func reasonOf(c codes.Code) Reason {
	switch c {
	case codes.Canceled:
		return Cancelled
	case codes.DeadlineExceeded:
		return DeadlinePassed
	case codes.Internal:
		return InternalFault
	}
	return Transport
}

// Internal is what a client hears of a fault of the server; the server's log has
// the rest.
func Internal() error {
	return fail(codes.Internal, InternalFault, nil, "the server has a fault; its log says more. Nothing was decided: do not treat on the strength of this call")
}

// Unimplemented is the answer to a method that this server does not have.
func Unimplemented(method string) error {
	return fail(codes.Unimplemented, UnknownMethod, facts{"method": method}, "this server has no method %q: use a newer server, or an older client", method)
}
