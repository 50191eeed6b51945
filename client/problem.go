package client

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"example.org/rootward/client/inventory"
)

// Problems says for people what an error is about, one line for each thing that
// is wrong. The server's violations come with the field, its other details with
// the reason; a file's faults with line and column.
func Problems(err error) []string {
	if file := (*inventory.FileError)(nil); errors.As(err, &file) {
		return problemsOfFile(file)
	}
	if errors.Is(err, context.Canceled) {
		return []string{"interrupted; nothing was written"}
	}
	var server interface {
		error
		GRPCStatus() *status.Status
	}
	if !errors.As(err, &server) {
		return strings.Split(err.Error(), "\n")
	}
	// What stands in front says what was being done when the server refused.
	doing, _, _ := strings.Cut(err.Error(), server.Error())
	return problemsOfStatus(server.GRPCStatus(), doing)
}

func problemsOfFile(f *inventory.FileError) []string {
	if len(f.Faults) == 0 {
		return []string{f.Error()}
	}
	var lines []string
	for _, fault := range f.Faults {
		line := fault.String()
		if f.File != "" {
			line = f.File + ": " + line
		}
		lines = append(lines, line)
	}
	return lines
}

func problemsOfStatus(s *status.Status, doing string) []string {
	var violations, reasons []string
	for _, detail := range s.Details() {
		switch d := detail.(type) {
		case *errdetails.BadRequest:
			for _, v := range d.GetFieldViolations() {
				violations = append(violations, fmt.Sprintf("%s%s: %s", doing, v.GetField(), v.GetDescription()))
			}
		case *errdetails.ErrorInfo:
			reasons = append(reasons, reason(d))
		}
	}
	if len(violations) > 0 {
		reasons = unlisted(s)
	}
	lines := violations
	if len(violations) == 0 { // else the message only repeats them
		lines = []string{fmt.Sprintf("%s%s (%s)", doing, s.Message(), s.Code())}
	}
	lines = append(lines, reasons...)
	if s.Code() == codes.Unavailable {
		lines = append(lines, "Is the server running at that address? Without --server a private one is started.")
	}
	return lines
}

// unlisted says that more is wrong than the server lists. Its reason, which is for programs,
// says no more than the violations.
func unlisted(s *status.Status) []string {
	for _, detail := range s.Details() {
		d, _ := detail.(*errdetails.ErrorInfo)
		if all := d.GetMetadata()["violations"]; all != d.GetMetadata()["listed"] {
			return []string{fmt.Sprintf("these are %s of the %s things that are wrong", d.GetMetadata()["listed"], all)}
		}
	}
	return nil
}

func reason(d *errdetails.ErrorInfo) string {
	line := "reason " + d.GetReason()
	for _, key := range slices.Sorted(maps.Keys(d.GetMetadata())) {
		line += fmt.Sprintf(", %s %s", key, d.GetMetadata()[key])
	}
	return line
}
