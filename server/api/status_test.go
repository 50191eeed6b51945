package api_test

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

	"example.org/rootward/server/api"
)

// details gives the two kinds of details that errors carry.
func details(tb testing.TB, err error) (*errdetails.ErrorInfo, *errdetails.BadRequest) {
	tb.Helper()
	var info *errdetails.ErrorInfo
	var bad *errdetails.BadRequest
	for _, d := range status.Convert(err).Details() {
		switch d := d.(type) {
		case *errdetails.ErrorInfo:
			info = d
		case *errdetails.BadRequest:
			bad = d
		}
	}
	require.NotNil(tb, info, "%v has no ErrorInfo", err)
	require.Equal(tb, api.Domain, info.Domain)
	return info, bad
}

func requireStatus(tb testing.TB, err error, code codes.Code, reason api.Reason, what string) {
	tb.Helper()
	require.Error(tb, err, what)
	require.Equal(tb, code, status.Code(err), "%s: %v", what, err)
	info, _ := details(tb, err)
	require.Equal(tb, string(reason), info.Reason, what)
}

// requireViolations asks for exactly these fields, in this order.
func requireViolations(tb testing.TB, err error, fields ...string) {
	tb.Helper()
	requireStatus(tb, err, codes.InvalidArgument, api.InvalidRequest, fmt.Sprint(fields))
	_, bad := details(tb, err)
	require.NotNil(tb, bad)
	var got []string
	for _, v := range bad.FieldViolations {
		got = append(got, v.Field)
		assert.NotEmpty(tb, v.Description)
	}
	require.Equal(tb, fields, got)
}

func TestEveryErrorGetsDetails(t *testing.T) {
	assert.NoError(t, api.Status(nil))
	for name, tc := range map[string]struct {
		err    error
		code   codes.Code
		reason api.Reason
	}{
		"cancelled":              {fmt.Errorf("in a row: %w", context.Canceled), codes.Canceled, api.Cancelled},
		"late":                   {context.DeadlineExceeded, codes.DeadlineExceeded, api.DeadlinePassed},
		"cancelled by transport": {status.Error(codes.Canceled, "x"), codes.Canceled, api.Cancelled},
		"too large":              {status.Error(codes.ResourceExhausted, "x"), codes.ResourceExhausted, api.Transport},
		"a bare error":           {errors.New("open /secret/path"), codes.Internal, api.InternalFault},
		"unknown method":         {api.Unimplemented("/a/b"), codes.Unimplemented, api.UnknownMethod},
	} {
		t.Run(name, func(t *testing.T) {
			err := api.Status(tc.err)
			requireStatus(t, err, tc.code, tc.reason, name)
			assert.NotContains(t, err.Error(), "secret", "what a server knows of itself stays with it")
			assert.Equal(t, err, api.Status(err), "details are added once")
		})
	}
}
