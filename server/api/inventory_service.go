package api

import (
	"bytes"
	"context"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/batch"
	"example.org/rootward/server/treatment"
)

// Inventory serves InventoryService. What it keeps, it keeps in Batches.
type Inventory struct {
	inventoryv1.UnimplementedInventoryServiceServer
	catalogue *treatment.Catalogue
	batches   Batches       // nil: none are kept
	uploads   chan struct{} // of the chunks that are being kept
}

// NewInventory makes the service. Without Batches it says to each call how a server is
// started that keeps some.
func NewInventory(with Services) *Inventory {
	return &Inventory{catalogue: with.Catalogue, batches: with.Batches, uploads: make(chan struct{}, chunksAtOnce)}
}

// Limits of what is uploaded.
const (
	maxTitle      = 200
	maxChunkBytes = 8 << 20
	maxChunks     = 1 << 24 // beyond 10^12 rows in chunks of the largest size
	maxPage       = 1_000
	defaultPage   = 100
)

// keeping is an error unless the server keeps batches.
func (s *Inventory) keeping() error {
	if s.batches != nil {
		return nil
	}
	return fail(codes.Unimplemented, NoBatches, nil, "this server keeps no batches: start it with --data DIR, or with --database URL if several servers are to share them; TreatmentService decides without keeping anything")
}

// CreateBatch opens a batch.
func (s *Inventory) CreateBatch(ctx context.Context, q *inventoryv1.CreateBatchRequest) (*inventoryv1.CreateBatchResponse, error) {
	if err := s.keeping(); err != nil {
		return nil, err
	}
	var f faults
	id := f.uuid("request_id", q.GetRequestId())
	f.unless(len(q.GetTitle()) <= maxTitle, "title", "has %d bytes; at most %d can be: shorten it", len(q.GetTitle()), maxTitle)
	f.keepable("title", q.GetTitle())
	if err := s.readBegin(ctx, &f, q.GetBegin()); err != nil {
		return nil, err
	}
	request, err := kept.Marshal(q.GetBegin())
	if err != nil {
		return nil, err
	}
	b, err := s.batches.Create(ctx, id, q.GetTitle(), request)
	if err != nil {
		return nil, batchRefused(err)
	}
	if !bytes.Equal(b.Request, request) {
		return nil, fail(codes.AlreadyExists, RequestDiffers, nil, "request_id: %s made batch %s, with another date, other sites or settings: use an id of its own for each batch", id, b.ID)
	}
	p, err := writeBatch(b)
	return &inventoryv1.CreateBatchResponse{Batch: p}, err
}

// readBegin checks what the batch is to begin with, and closes the list of faults.
func (s *Inventory) readBegin(ctx context.Context, f *faults, p *treatmentv1.StreamBegin) error {
	if p == nil {
		f.add("begin", "is missing: state date, sites and settings")
		return f.err()
	}
	var own faults
	if _, err := own.begin(ctx, p, s.catalogue); err != nil && len(own.list) == 0 {
		return err
	}
	for _, fault := range own.list {
		f.add("begin."+fault.Field, "%s", fault.Problem)
	}
	return f.err()
}

// StartBatch pins the law and begins to decide.
func (s *Inventory) StartBatch(ctx context.Context, q *inventoryv1.StartBatchRequest) (*inventoryv1.StartBatchResponse, error) {
	var f faults
	f.batchID(q.GetBatchId())
	f.unless(q.GetChunks() > 0, "chunks", "is %d: state how many were uploaded", q.GetChunks())
	f.unless(q.GetRows() > 0, "rows", "is %d: state how many the chunks have together", q.GetRows())
	p, err := s.of(&f, func() (*batch.Batch, error) {
		return s.batches.Start(ctx, q.GetBatchId(), q.GetChunks(), q.GetRows())
	})
	return &inventoryv1.StartBatchResponse{Batch: p}, err
}

// of does something with one batch, if the request has no faults, and writes it.
func (s *Inventory) of(f *faults, do func() (*batch.Batch, error)) (*inventoryv1.Batch, error) {
	if err := s.keeping(); err != nil {
		return nil, err
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	b, err := do()
	if err != nil {
		return nil, batchRefused(err)
	}
	return writeBatch(b)
}

// GetBatch tells how a batch stands.
func (s *Inventory) GetBatch(ctx context.Context, q *inventoryv1.GetBatchRequest) (*inventoryv1.GetBatchResponse, error) {
	var f faults
	f.batchID(q.GetBatchId())
	begin := &treatmentv1.StreamBegin{}
	p, err := s.of(&f, func() (*batch.Batch, error) {
		b, err := s.batches.Get(ctx, q.GetBatchId())
		if err != nil {
			return nil, err
		}
		return b, proto.Unmarshal(b.Request, begin)
	})
	if err != nil {
		return nil, err
	}
	return &inventoryv1.GetBatchResponse{Batch: p, Begin: begin}, nil
}

// ListBatches lists batches.
func (s *Inventory) ListBatches(ctx context.Context, q *inventoryv1.ListBatchesRequest) (*inventoryv1.ListBatchesResponse, error) {
	if err := s.keeping(); err != nil {
		return nil, err
	}
	var f faults
	f.unless(q.GetPageSize() >= 0 && q.GetPageSize() <= maxPage, "page_size", "is %d: ask for 1 to %d, or for 0, which is %d", q.GetPageSize(), maxPage, defaultPage)
	token := f.name("page_token", q.GetPageToken())
	if err := f.err(); err != nil {
		return nil, err
	}
	size := int(q.GetPageSize())
	if size == 0 {
		size = defaultPage
	}
	list, next, err := s.batches.List(ctx, size, token)
	if err != nil {
		return nil, batchRefused(err)
	}
	r := &inventoryv1.ListBatchesResponse{NextPageToken: next}
	for _, b := range list {
		p, err := writeBatch(b)
		if err != nil {
			return nil, err
		}
		r.Batches = append(r.Batches, p)
	}
	return r, nil
}

// WatchBatch tells how a batch gets on.
func (s *Inventory) WatchBatch(q *inventoryv1.WatchBatchRequest, stream grpc.ServerStreamingServer[inventoryv1.WatchBatchResponse]) error {
	if err := s.asked(q.GetBatchId()); err != nil {
		return err
	}
	for b, err := range s.batches.Watch(stream.Context(), q.GetBatchId()) {
		if err != nil {
			return batchRefused(err)
		}
		p, err := writeBatch(b)
		if err != nil {
			return err
		}
		if err := stream.Send(&inventoryv1.WatchBatchResponse{Batch: p}); err != nil {
			return Status(err)
		}
	}
	return nil
}

// asked checks a request that names a batch and nothing else.
func (s *Inventory) asked(id string) error {
	if err := s.keeping(); err != nil {
		return err
	}
	var f faults
	f.batchID(id)
	return f.err()
}

// CancelBatch stops a batch.
func (s *Inventory) CancelBatch(ctx context.Context, q *inventoryv1.CancelBatchRequest) (*inventoryv1.CancelBatchResponse, error) {
	var f faults
	f.batchID(q.GetBatchId())
	p, err := s.of(&f, func() (*batch.Batch, error) { return s.batches.Cancel(ctx, q.GetBatchId()) })
	return &inventoryv1.CancelBatchResponse{Batch: p}, err
}

// DeleteBatch removes a batch.
func (s *Inventory) DeleteBatch(ctx context.Context, q *inventoryv1.DeleteBatchRequest) (*inventoryv1.DeleteBatchResponse, error) {
	if err := s.asked(q.GetBatchId()); err != nil {
		return nil, err
	}
	return &inventoryv1.DeleteBatchResponse{}, batchRefused(s.batches.Delete(ctx, q.GetBatchId()))
}

// RetryUndetermined decides a batch once more.
func (s *Inventory) RetryUndetermined(ctx context.Context, q *inventoryv1.RetryUndeterminedRequest) (*inventoryv1.RetryUndeterminedResponse, error) {
	var f faults
	f.batchID(q.GetBatchId())
	p, err := s.of(&f, func() (*batch.Batch, error) { return s.batches.Retry(ctx, q.GetBatchId()) })
	return &inventoryv1.RetryUndeterminedResponse{Batch: p}, err
}

// ListResults gives answers from a cursor on.
func (s *Inventory) ListResults(q *inventoryv1.ListResultsRequest, stream grpc.ServerStreamingServer[inventoryv1.ListResultsResponse]) error {
	if err := s.keeping(); err != nil {
		return err
	}
	var f faults
	f.batchID(q.GetBatchId())
	at := f.cursor(q.GetCursor())
	wanted := f.outcomes(q.GetOutcomes())
	if err := f.err(); err != nil {
		return err
	}
	for r, err := range s.batches.Results(stream.Context(), q.GetBatchId(), at.index) {
		if err != nil {
			return batchRefused(err)
		}
		if q.GetCursor() != "" && at.revision != r.Revision {
			return fail(codes.Aborted, ChangedMeanwhile, nil, "cursor: the batch has been decided once more since it was given: ask from the first chunk on")
		}
		if !wanted.in(&r.Counts) {
			continue
		}
		p, err := writeResult(r)
		if err != nil {
			return err
		}
		if err := stream.Send(p); err != nil {
			return Status(err)
		}
	}
	return nil
}
