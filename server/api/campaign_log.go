package api

import (
	"context"
	"fmt"

	"google.golang.org/grpc"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/server/ledger"
)

// GetLogKey implements campaignv1.CampaignServiceServer.
func (s *Campaign) GetLogKey(context.Context, *campaignv1.GetLogKeyRequest) (*campaignv1.GetLogKeyResponse, error) {
	if err := s.keeping(); err != nil {
		return nil, err
	}
	return &campaignv1.GetLogKeyResponse{Key: &campaignv1.LogKey{Verifier: s.ledger.Verifier(), Origin: s.ledger.Origin()}}, nil
}

// ExportLog implements campaignv1.CampaignServiceServer: the checkpoint, the entries up
// to it, and the rule tables that these name.
func (s *Campaign) ExportLog(q *campaignv1.ExportLogRequest, to grpc.ServerStreamingServer[campaignv1.ExportLogResponse]) error {
	if err := s.keeping(); err != nil {
		return err
	}
	ctx := to.Context()
	signed, size, err := s.ledger.Checkpoint(ctx)
	if err != nil {
		return err
	}
	var f faults
	f.unless(q.GetFirst() >= 0 && q.GetFirst() <= size, "first", "is %d: the log has %d entries, numbered from 0", q.GetFirst(), size)
	if err := f.err(); err != nil {
		return err
	}
	if err := to.Send(&campaignv1.ExportLogResponse{Part: &campaignv1.ExportLogResponse_Checkpoint{Checkpoint: signed}}); err != nil {
		return err
	}
	named := map[string]bool{}
	for e, err := range s.ledger.Entries(ctx, q.GetFirst(), size) {
		if err != nil {
			return err
		}
		if err := nameTables(named, e); err != nil {
			return err
		}
		line, err := e.Line()
		if err != nil {
			return err
		}
		if err := to.Send(&campaignv1.ExportLogResponse{Part: &campaignv1.ExportLogResponse_Entry{Entry: line}}); err != nil {
			return err
		}
	}
	return s.exportTables(ctx, named, to)
}

// nameTables notes the rule tables that an entry was judged by.
func nameTables(named map[string]bool, e *ledger.Entry) error {
	if e.Kind != recordKind {
		return nil
	}
	r, err := readInto(&campaignv1.Record{}, e)
	for _, ref := range r.GetDerivation().GetRuleSets() {
		named[ref.GetDigest()] = true
	}
	return err
}

func (s *Campaign) exportTables(ctx context.Context, named map[string]bool, to grpc.ServerStreamingServer[campaignv1.ExportLogResponse]) error {
	kept, err := s.ledger.Tables(ctx)
	if err != nil {
		return err
	}
	for _, digest := range kept {
		if !named[digest] {
			continue
		}
		delete(named, digest)
		table, err := s.ledger.Table(ctx, digest)
		if err != nil {
			return err
		}
		if err := to.Send(&campaignv1.ExportLogResponse{Part: &campaignv1.ExportLogResponse_Table{Table: table}}); err != nil {
			return err
		}
	}
	for digest := range named {
		return fmt.Errorf("rule table %s is named by a record and not kept: %w", digest, ledger.ErrDamaged)
	}
	return nil
}
