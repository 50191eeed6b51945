package api_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules/recordlog"
	"example.org/rootward/server/api"
	"example.org/rootward/server/ledger"
	"example.org/rootward/server/ledger/ledgertest"
)

// exported gathers what is sent.
type exported struct {
	grpc.ServerStreamingServer[campaignv1.ExportLogResponse]
	ctx   context.Context
	parts []*campaignv1.ExportLogResponse
}

func (e *exported) Context() context.Context { return e.ctx }
func (e *exported) Send(p *campaignv1.ExportLogResponse) error {
	e.parts = append(e.parts, p)
	return nil
}

// kept appends an entry.
func kept(t *testing.T, l *ledger.Ledger, name, kind string, body []byte) {
	t.Helper()
	_, err := l.Append(t.Context(), ledger.Draft{Name: name, Kind: kind, Site: "sites/a", Version: 1, Request: name, Body: body, Read: -1})
	require.NoError(t, err)
}

func TestExportLog(t *testing.T) {
	l := ledgertest.New(t)
	s := api.NewCampaign(api.Services{Ledger: l})
	named, other := "a0", "b1"
	for len(named) < 64 {
		named, other = named+"0", other+"1"
	}
	require.NoError(t, l.PutTable(t.Context(), other, []byte("that no record names")))
	body, err := protojson.Marshal(&campaignv1.Record{Name: "sites/a/records/r", Derivation: &campaignv1.Derivation{RuleSets: []*commonv1.RuleSetRef{{Digest: named}}}})
	require.NoError(t, err)
	kept(t, l, "sites/a", "site", []byte(`{"name":"sites/a"}`))
	kept(t, l, "sites/a/records/r", "record", body)

	to := &exported{ctx: t.Context()}
	require.ErrorIs(t, s.ExportLog(&campaignv1.ExportLogRequest{}, to), ledger.ErrDamaged, "a table is missing")

	require.NoError(t, l.PutTable(t.Context(), named, []byte("that a record names")))
	to = &exported{ctx: t.Context()}
	require.NoError(t, s.ExportLog(&campaignv1.ExportLogRequest{First: 1}, to))
	require.Len(t, to.parts, 3)
	v, err := recordlog.ParseVerifier(l.Verifier())
	require.NoError(t, err)
	c, err := recordlog.OpenCheckpoint(to.parts[0].GetCheckpoint(), v)
	require.NoError(t, err)
	assert.EqualValues(t, 2, c.Size)
	e, err := recordlog.ParseLine(to.parts[1].GetEntry())
	require.NoError(t, err)
	assert.Equal(t, string(body), string(e.Body), "as it was kept")
	assert.Equal(t, "that a record names", string(to.parts[2].GetTable()))

	for _, first := range []int64{-1, 3} {
		assert.Equal(t, codes.InvalidArgument, status.Code(api.Status(s.ExportLog(&campaignv1.ExportLogRequest{First: first}, to))))
	}
	none := api.NewCampaign(api.Services{})
	assert.Equal(t, codes.Unimplemented, status.Code(none.ExportLog(&campaignv1.ExportLogRequest{}, to)))
	_, err = none.GetLogKey(t.Context(), nil)
	assert.Equal(t, codes.Unimplemented, status.Code(err))
}
