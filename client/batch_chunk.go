package client

import (
	"errors"

	"google.golang.org/grpc"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// chunkSender is the stream that a pass sends to while a batch is uploaded.
type chunkSender struct {
	grpc.ClientStream
	upload *upload
	to     grpc.BidiStreamingClient[inventoryv1.UploadChunksRequest, inventoryv1.UploadChunksResponse]
}

// SendMsg uploads a chunk, unless the server keeps it.
func (s *chunkSender) SendMsg(m any) error {
	u, index, chunk := s.upload, s.upload.chunks, m.(columnar.EncodedChunk)
	u.chunks++
	u.rows += int64(chunk.Rows)
	if index < u.skip {
		return nil
	}
	return s.to.SendMsg(&columnar.Upload{BatchID: u.batch, Index: index, Encoded: chunk.Message})
}

// Send is not called: a pass sends chunks that are encoded.
func (s *chunkSender) Send(*treatmentv1.PrescribeStreamRequest) error {
	return errors.New("an upload has nothing but chunks")
}

// CloseSend tells the server that these were all.
func (s *chunkSender) CloseSend() error { return s.to.CloseSend() }

// RecvMsg is not called, as Recv is not.
func (s *chunkSender) RecvMsg(any) error {
	_, err := s.Recv()
	return err
}

// Recv is not called: a pass that only sends receives nothing.
func (s *chunkSender) Recv() (*treatmentv1.PrescribeStreamResponse, error) {
	return nil, errors.New("an upload is not answered row by row")
}
