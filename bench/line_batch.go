package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// durable compares a batch whose rows and results are kept, from the first chunk that is
// sent until all are decided, with the same rows streamed and not kept.
func (b *bench) durable(ctx context.Context) ([]result, error) {
	v := draw(int64(b.size(2_000_000, 200_000)))
	data, err := os.MkdirTemp(b.dir, "data-")
	if err != nil {
		return nil, err
	}
	server, err := b.programs.Start(ctx, b.programs.Rules(), "--data", data)
	if err != nil {
		return nil, err
	}
	defer server.Close()
	streams := treatmentv1.NewTreatmentServiceClient(server.Conn)
	batches := inventoryv1.NewInventoryServiceClient(server.Conn)
	var uploading time.Duration
	medians, err := alternately(b.size(5, 3),
		func() (time.Duration, error) { return streamed(ctx, streams, v) },
		func() (time.Duration, error) {
			whole, upload, err := keep(ctx, batches, v)
			uploading = upload
			return whole, err
		},
	)
	if err != nil {
		return nil, err
	}
	ours, stream := each(medians[1], v.rows), each(medians[0], v.rows)
	return []result{{line: durableLine, ratio: stream / ours, peer: nanoseconds(stream),
		measured: fmt.Sprintf("%s (upload %.4g)", nanoseconds(ours), each(uploading, v.rows))}}, nil
}

// keep makes a batch, waits until all of it is decided, and deletes it. It gives how long
// that took before it was deleted, and how much of it was the upload.
func keep(ctx context.Context, c inventoryv1.InventoryServiceClient, v *inventory) (whole, uploading time.Duration, err error) {
	id := ""
	whole, err = took(func() error {
		made, err := c.CreateBatch(ctx, &inventoryv1.CreateBatchRequest{RequestId: uuid(), Title: "bench", Begin: v.begin})
		if err != nil {
			return err
		}
		id = made.GetBatch().GetBatchId()
		if uploading, err = took(func() error { return upload(ctx, c, id, v) }); err != nil {
			return err
		}
		if _, err := c.StartBatch(ctx, &inventoryv1.StartBatchRequest{BatchId: id, Chunks: int64(len(v.chunks)), Rows: v.rows}); err != nil {
			return err
		}
		return succeeded(ctx, c, id, v.rows)
	})
	if err != nil {
		return 0, 0, err
	}
	_, err = c.DeleteBatch(ctx, &inventoryv1.DeleteBatchRequest{BatchId: id})
	return whole, uploading, err
}

// uuid draws a random one, of version 4 (RFC 9562).
func uuid() string {
	var b [16]byte
	rand.Read(b[:])
	b[6], b[8] = b[6]&0x0f|0x40, b[8]&0x3f|0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

func upload(ctx context.Context, c inventoryv1.InventoryServiceClient, id string, v *inventory) error {
	s, err := c.UploadChunks(ctx)
	if err != nil {
		return err
	}
	sent := make(chan error, 1)
	go func() { sent <- sendChunks(s, id, v) }()
	for {
		_, err := s.Recv()
		if errors.Is(err, io.EOF) {
			return <-sent
		}
		if err != nil {
			return err
		}
	}
}

type chunkSender interface {
	SendMsg(any) error
	CloseSend() error
}

func sendChunks(s chunkSender, id string, v *inventory) error {
	for i, chunk := range v.chunks {
		err := s.SendMsg(&columnar.Upload{BatchID: id, Index: int64(i), Chunk: chunk}) // as the product's client does
		if errors.Is(err, io.EOF) {
			return nil // the receiving side has the reason
		}
		if err != nil {
			return err
		}
	}
	return s.CloseSend()
}

func succeeded(ctx context.Context, c inventoryv1.InventoryServiceClient, id string, rows int64) error {
	watch, err := c.WatchBatch(ctx, &inventoryv1.WatchBatchRequest{BatchId: id})
	if err != nil {
		return err
	}
	var last *inventoryv1.Batch
	for {
		answer, err := watch.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		last = answer.GetBatch()
	}
	if last.GetState() != inventoryv1.BatchState_BATCH_STATE_SUCCEEDED || last.GetTotals().GetRows() != rows {
		return fmt.Errorf("the batch of %d rows ended as %s with %d decided: %v", rows, last.GetState(), last.GetTotals().GetRows(), last.GetError())
	}
	return nil
}

// hook compares a stream one row in a hundred of which has a row that a plugin computes,
// with the same stream without.
func (b *bench) hook(ctx context.Context) ([]result, error) {
	plain := draw(int64(b.size(1_000_000, 200_000)))
	computed := &inventory{plain.rows, proto.CloneOf(plain.begin), plain.chunks}
	for i := 50; i < len(computed.begin.GetSites()); i += 100 {
		highUp(computed.begin.GetSites()[i])
	}
	server, err := b.programs.Start(ctx, b.programs.RulesWithHook())
	if err != nil {
		return nil, err
	}
	defer server.Close()
	client := treatmentv1.NewTreatmentServiceClient(server.Conn)
	medians, err := alternately(b.runs(),
		func() (time.Duration, error) { return streamed(ctx, client, computed) },
		func() (time.Duration, error) { return streamed(ctx, client, plain) },
	)
	if err != nil {
		return nil, err
	}
	ours, without := each(medians[0], plain.rows), each(medians[1], plain.rows)
	return []result{{line: hookLine, ratio: without / ours, measured: nanoseconds(ours), peer: nanoseconds(without)}}, nil
}

// highUp moves a site to the district whose windows are computed, with all that they are
// computed from.
func highUp(s *treatmentv1.Site) {
	s.Place = "us/velmora/high-tarn"
	s.LatitudeDeg, s.LongitudeDeg, s.ElevationM = new(41.2), new(-79.5), new(400.0)
	s.Temperatures = &treatmentv1.Temperatures{FirstDay: newYear()}
	for range 221 { // to 9 August
		s.Temperatures.MinC, s.Temperatures.MaxC = append(s.Temperatures.MinC, 10), append(s.Temperatures.MaxC, 20)
	}
}
