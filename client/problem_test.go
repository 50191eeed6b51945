package client_test

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"example.org/rootward/client"
	"example.org/rootward/client/inventory"
)

func TestProblemsAreOneALine(t *testing.T) {
	refused, err := status.New(codes.InvalidArgument, "2 fields are wrong").WithDetails(
		&errdetails.ErrorInfo{Reason: "INVALID_REQUEST", Domain: "rootward", Metadata: map[string]string{"violations": "300", "listed": "2"}},
		&errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{
			{Field: "date", Description: "is missing; state the day of treatment"},
			{Field: "settings.tank_gal", Description: "0 gal is not above 0"},
		}})
	require.NoError(t, err)
	all, err := status.New(codes.InvalidArgument, "a field is wrong").WithDetails(
		&errdetails.ErrorInfo{Reason: "INVALID_REQUEST", Domain: "rootward", Metadata: map[string]string{"violations": "1", "listed": "1"}},
		&errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{{Field: "date", Description: "is missing"}}})
	require.NoError(t, err)
	reasoned, err := status.New(codes.Aborted, "not now").WithDetails(&errdetails.ErrorInfo{Reason: "CHANGED", Domain: "rootward", Metadata: map[string]string{"b": "2", "a": "1"}})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		err  error
		want []string
	}{
		"violations of the server": {refused.Err(), []string{
			"date: is missing; state the day of treatment", "settings.tank_gal: 0 gal is not above 0",
			"these are 2 of the 300 things that are wrong"}},
		"all violations are listed": {all.Err(), []string{"date: is missing"}},
		"no violations":             {reasoned.Err(), []string{"not now (Aborted)", "reason CHANGED, a 1, b 2"}},
		"wrapped": {fmt.Errorf("rule set velmora: %w", status.Error(codes.Internal, "broken")), []string{
			"rule set velmora: broken (Internal)"}},
		"no server": {status.Error(codes.Unavailable, "connection refused"), []string{
			"connection refused (Unavailable)", "Is the server running at that address? Without --server a private one is started."}},
		"a file": {&inventory.FileError{File: "a.csv", Faults: []inventory.Fault{
			{Line: 1, Column: "dbh", Problem: "has no unit; write dbh_in or dbh_cm"}, {Problem: "is empty"}}}, []string{
			"a.csv: line 1, column dbh: has no unit; write dbh_in or dbh_cm", "a.csv: is empty"}},
		"interrupted": {fmt.Errorf("row: %w", context.Canceled), []string{"interrupted; nothing was written"}},
		"several":     {errors.Join(errors.New("one"), errors.New("two")), []string{"one", "two"}},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, c.want, client.Problems(c.err)) })
	}
}
