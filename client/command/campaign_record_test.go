package command_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
)

// registrar keeps one record of a site in a time zone; of no site if that is empty.
type registrar struct {
	campaignv1.UnimplementedCampaignServiceServer
	zone string
}

func (k *registrar) GetSite(_ context.Context, q *campaignv1.GetSiteRequest) (*campaignv1.GetSiteResponse, error) {
	if k.zone == "" || q.GetName() != "sites/bank" {
		return nil, status.Error(codes.NotFound, q.GetName())
	}
	return &campaignv1.GetSiteResponse{Site: &campaignv1.Site{Name: q.GetName(), TimeZone: k.zone}}, nil
}

func (*registrar) record() *campaignv1.Record {
	at := func(month time.Month, day, hour, minute int) *timestamppb.Timestamp {
		return timestamppb.New(time.Date(2026, month, day, hour, minute, 0, 0, time.UTC))
	}
	return &campaignv1.Record{
		Name: "sites/bank/records/one", Version: 1, StartTime: at(7, 15, 2, 30), EndTime: at(7, 15, 2, 40), EntryEndTime: at(7, 16, 2, 40),
		FormulationId: "herb", ProductMl: new(3786.0), AeG: 12, Active: "x",
		Duties: []*campaignv1.RecordDuty{
			{Rule: "velmora/record", DueTime: at(7, 30, 3, 59), OnTime: true, Source: "invented"},
			{Rule: "velmora/winter", DueTime: at(12, 1, 4, 59), Source: "invented"},
		},
	}
}

func (k *registrar) CreateRecord(context.Context, *campaignv1.CreateRecordRequest) (*campaignv1.CreateRecordResponse, error) {
	return &campaignv1.CreateRecordResponse{Record: k.record()}, nil
}

func (k *registrar) GetRecord(context.Context, *campaignv1.GetRecordRequest) (*campaignv1.GetRecordResponse, error) {
	return &campaignv1.GetRecordResponse{Record: k.record()}, nil
}

func (k *registrar) ListRecords(context.Context, *campaignv1.ListRecordsRequest) (*campaignv1.ListRecordsResponse, error) {
	return &campaignv1.ListRecordsResponse{Records: []*campaignv1.Record{k.record()}}, nil
}

func (k *registrar) serve(t *testing.T) string { return serveCampaigns(t, k) }

// In July the east of the United States is four hours behind UTC, in December five
// (15 USC 260a and 261): what is due on the evening of the 29th there is no longer in time
// on the 30th.
func TestTimesOfARecordAreThoseOfItsSite(t *testing.T) {
	file := filepath.Join(t.TempDir(), "record.yaml")
	require.NoError(t, os.WriteFile(file, []byte("plan: plans/summer\njob_id: j1\n"), 0o600))
	server := (&registrar{zone: "America/New_York"}).serve(t)
	for _, args := range [][]string{{"records", "add", "sites/bank", "one", "--file", file}, {"records", "show", "sites/bank/records/one"}} {
		got := direct(t, append(args, "--server", server)...)
		require.Zero(t, got.code, got.stderr)
		contains(t, got.stdout, "version 1 2026-07-14 22:30 -04:00 (America/New_York)", "before 2026-07-15 22:40 -04:00 (America/New_York)",
			"velmora/record: complete; due 2026-07-29 23:59 -04:00 (America/New_York)", "LATE, was due 2026-11-30 23:59 -05:00 (America/New_York)")
	}
	// 1 US gallon is 3785.411784 mL (NIST Handbook 44, appendix C).
	for units, says := range map[string]string{"us": "herb, 3786 mL (1 gal) of product, 12 g ae of x", "metric": "herb, 3786 mL of product, 12 g ae of x"} {
		contains(t, direct(t, "records", "show", "sites/bank/records/one", "--units", units, "--server", server).stdout, says)
		contains(t, direct(t, "records", "list", "sites/bank", "--units", units, "--server", server).stdout, says)
	}
	contains(t, direct(t, "records", "list", "sites/bank", "--server", server).stdout, "2026-07-14 22:30 -04:00 (America/New_York)")

	for _, zone := range []string{"", "Nowhere/Known"} {
		got := direct(t, "records", "show", "sites/bank/records/one", "--server", (&registrar{zone: zone}).serve(t))
		assert.Zero(t, got.code, "what is kept is shown all the same")
		contains(t, got.stdout, "due 2026-07-30 03:59 +00:00 (UTC)")
	}
}
