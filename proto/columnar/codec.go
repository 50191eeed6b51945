package columnar

import (
	"google.golang.org/grpc/encoding"
	grpcproto "google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Codec reads and writes what gRPC's own does, byte for byte, and is faster with the chunks
// of a stream and their answers, and in reading answers to single stems. A response that is
// received into once more gives the memory of its chunk to the next.
func Codec() encoding.CodecV2 { return codec{encoding.GetCodecV2(grpcproto.Name), &known{}} }

type codec struct {
	encoding.CodecV2
	known *known
}

// EncodedChunk is a request of PrescribeStream, with a StemChunk that is encoded already, in
// pieces that follow each other. Its memory must stay as it is until the chunk is answered.
type EncodedChunk struct {
	Rows    int
	Message [][]byte
}

const chunkField = 2 // of a request

// Marshal implements encoding.CodecV2.
func (c codec) Marshal(v any) (mem.BufferSlice, error) {
	switch m := v.(type) {
	case EncodedChunk:
		return m.marshal(), nil
	case *treatmentv1.PrescribeStreamRequest:
		if chunk := m.GetChunk(); chunk != nil && len(m.ProtoReflect().GetUnknown()) == 0 {
			const bytesOfRow = 96 // more than most have
			return appendOnly(chunkField, bytesOfRow*Rows(chunk), chunk, Append)
		}
	case *treatmentv1.PrescribeStreamResponse:
		if answers := m.GetChunk(); answers != nil && len(m.ProtoReflect().GetUnknown()) == 0 {
			const bytesOfRow = 24
			return appendOnly(1, bytesOfRow*len(answers.GetOutcome()), answers, AppendAnswers)
		}
	case *Upload:
		return m.marshal()
	}
	return c.CodecV2.Marshal(v)
}

func (c *EncodedChunk) marshal() mem.BufferSlice {
	size := 0
	for _, piece := range c.Message {
		size += len(piece)
	}
	message := mem.BufferSlice{mem.SliceBuffer(appendLead(nil, chunkField, size))}
	for _, piece := range c.Message {
		message = append(message, mem.SliceBuffer(piece))
	}
	return message
}

// Unmarshal implements encoding.CodecV2.
func (c codec) Unmarshal(data mem.BufferSlice, v any) error {
	switch m := v.(type) {
	case *treatmentv1.PrescribeStreamResponse:
		buffer := data.MaterializeToBuffer(Memory())
		defer buffer.Free()
		return readAnswers(buffer.ReadOnlyData(), m)
	case *treatmentv1.PrescribeResponse:
		buffer := data.MaterializeToBuffer(mem.DefaultBufferPool())
		defer buffer.Free()
		return c.known.answer(buffer.ReadOnlyData(), m)
	}
	return c.CodecV2.Unmarshal(data, v)
}

func readAnswers(data []byte, m *treatmentv1.PrescribeStreamResponse) error {
	answers, only := OnlyField(data, 1)
	if !only {
		return proto.Unmarshal(data, m)
	}
	chunk := m.GetChunk()
	if chunk == nil {
		chunk = &treatmentv1.PrescriptionChunk{}
	}
	proto.Reset(m)
	m.Message = &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: chunk}
	return DecodeAnswers(answers, chunk)
}

// OnlyField is the message within a message that has one field alone, this one.
func OnlyField(message []byte, number protowire.Number) (field []byte, only bool) {
	found, kind, n := protowire.ConsumeTag(message)
	if n < 0 || found != number || kind != protowire.BytesType {
		return nil, false
	}
	field, m := protowire.ConsumeBytes(message[n:])
	if m < 0 || n+m != len(message) {
		return nil, false
	}
	return field, true
}

// appendOnly writes a message that has one field alone, of about so many bytes.
func appendOnly[M any](number protowire.Number, size int, field M, write func([]byte, M) ([]byte, error)) (mem.BufferSlice, error) {
	pool := Memory()
	memory := pool.Get(size)
	body, err := write((*memory)[:0], field)
	if err != nil {
		pool.Put(memory)
		return nil, err
	}
	*memory = body
	return mem.BufferSlice{mem.SliceBuffer(appendLead(nil, number, len(body))), mem.NewBuffer(memory, pool)}, nil
}
