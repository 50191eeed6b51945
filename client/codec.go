package client

import (
	"fmt"
	"hash/maphash"

	"google.golang.org/grpc"
	"google.golang.org/grpc/encoding"
	grpcproto "google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// sharing reads the answers of one stream so that equal explanations, which chunk
// after chunk repeats, are read once and shared, and so are the sentences that
// explanations have in common. It is for one stream.
type sharing struct {
	encoding.CodecV2
	explanations map[fingerprint]*treatmentv1.Explanation
	alternatives map[string]*treatmentv1.Alternative // by their encoding, as in the next
	findings     map[string]*rulesetv1.Finding
	texts        map[string]string
	sent         map[int32]*treatmentv1.Explanation // by id, those that the server sends once
	seeds        [2]maphash.Seed
}

// fingerprint tells encoded explanations apart: two 64-bit hashes with seeds that
// are drawn for the stream. That any two of a million explanations have the same is
// less likely than 10^-26.
type fingerprint [2]uint64

// maxShared bounds the explanations that are remembered; each holds a few kB.
const maxShared = 16_384

func newSharing() *sharing {
	return &sharing{CodecV2: encoding.GetCodecV2(grpcproto.Name), sent: map[int32]*treatmentv1.Explanation{}, seeds: [2]maphash.Seed{maphash.MakeSeed(), maphash.MakeSeed()}}
}

func sharedExplanations() grpc.CallOption { return grpc.ForceCodecV2(newSharing()) }

// Unmarshal implements encoding.CodecV2.
func (s *sharing) Unmarshal(data mem.BufferSlice, v any) error {
	response, ok := v.(*treatmentv1.PrescribeStreamResponse)
	if !ok {
		return s.CodecV2.Unmarshal(data, v)
	}
	buffer := data.MaterializeToBuffer(mem.DefaultBufferPool())
	defer buffer.Free()
	proto.Reset(response)
	chunk := chunkIn(buffer.ReadOnlyData())
	if chunk == nil {
		return proto.Unmarshal(buffer.ReadOnlyData(), response)
	}
	answer := &treatmentv1.PrescriptionChunk{}
	response.Message = &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: answer}
	return s.read(chunk, answer)
}

// chunkIn is the encoded chunk of a response that holds it and nothing else.
func chunkIn(response []byte) []byte {
	const field = 1
	number, kind, n := protowire.ConsumeTag(response)
	if n < 0 || number != field || kind != protowire.BytesType {
		return nil
	}
	chunk, m := protowire.ConsumeBytes(response[n:])
	if m < 0 || n+m != len(response) {
		return nil
	}
	return chunk
}

// read takes the explanations out of a chunk.
func (s *sharing) read(chunk []byte, into *treatmentv1.PrescriptionChunk) error {
	const explanations = 3
	err := split(chunk, into, func(number protowire.Number, value []byte) (bool, error) {
		if number != explanations {
			return false, nil
		}
		e, err := s.explanation(value)
		into.Explanations = append(into.Explanations, e)
		return true, err
	})
	if err != nil {
		return err
	}
	return s.recall(into)
}

// recall puts the explanations that were sent before where they are sent empty.
func (s *sharing) recall(into *treatmentv1.PrescriptionChunk) error {
	ids := into.ExplanationIds
	if len(ids) == 0 {
		return nil
	}
	if len(ids) != len(into.Explanations) {
		return fmt.Errorf("the server sent %d explanations with %d ids", len(into.Explanations), len(ids))
	}
	for i, id := range ids {
		if proto.Size(into.Explanations[i]) > 0 {
			s.sent[id] = into.Explanations[i]
		}
		if into.Explanations[i] = s.sent[id]; into.Explanations[i] == nil {
			return fmt.Errorf("the server sent explanation %d without its content, and had not sent it before", id)
		}
	}
	return nil
}

// split reads a message of which take has some fields that are messages themselves;
// the fields between them are left to the usual reading.
func split(data []byte, into proto.Message, take func(number protowire.Number, value []byte) (bool, error)) error {
	merge := proto.UnmarshalOptions{Merge: true}
	start := 0 // of what is left to the usual reading
	for at := 0; at < len(data); {
		number, kind, n := protowire.ConsumeField(data[at:])
		if n < 0 {
			return protowire.ParseError(n)
		}
		if kind == protowire.BytesType {
			_, _, tag := protowire.ConsumeTag(data[at:])
			value, _ := protowire.ConsumeBytes(data[at+tag:])
			taken, err := take(number, value)
			if err != nil {
				return err
			}
			if taken {
				if err := merge.Unmarshal(data[start:at], into); err != nil {
					return err
				}
				start = at + n
			}
		}
		at += n
	}
	return merge.Unmarshal(data[start:], into)
}

// explanation gives the one that is encoded so.
func (s *sharing) explanation(data []byte) (*treatmentv1.Explanation, error) {
	of := fingerprint{maphash.Bytes(s.seeds[0], data), maphash.Bytes(s.seeds[1], data)}
	if known := s.explanations[of]; known != nil {
		return known, nil
	}
	if s.explanations == nil || len(s.explanations) == maxShared {
		s.explanations, s.alternatives, s.findings = map[fingerprint]*treatmentv1.Explanation{}, map[string]*treatmentv1.Alternative{}, map[string]*rulesetv1.Finding{}
		s.texts = map[string]string{}
	}
	e := &treatmentv1.Explanation{}
	const alternatives, findings = 3, 4
	err := split(data, e, func(number protowire.Number, value []byte) (bool, error) {
		var err error
		switch number {
		case alternatives:
			var a *treatmentv1.Alternative
			a, err = shared(s.alternatives, value, &treatmentv1.Alternative{})
			e.Alternatives = append(e.Alternatives, a)
		case findings:
			var f *rulesetv1.Finding
			f, err = shared(s.findings, value, &rulesetv1.Finding{})
			e.Findings = append(e.Findings, f)
		default:
			return false, nil
		}
		return true, err
	})
	if err != nil {
		return nil, err
	}
	for _, list := range [][]string{e.Steps, e.Cautions, e.FollowUp, e.Remedies, e.Conflicts} {
		for i := range list {
			list[i] = s.text(list[i])
		}
	}
	s.explanations[of] = e
	return e, nil
}

// shared gives the message that is encoded so, and reads it where it is new.
func shared[M proto.Message](known map[string]M, data []byte, blank M) (M, error) {
	if m, ok := known[string(data)]; ok {
		return m, nil
	}
	if err := proto.Unmarshal(data, blank); err != nil {
		return blank, err
	}
	known[string(data)] = blank
	return blank, nil
}

// text gives the equal text that was read first.
func (s *sharing) text(text string) string {
	if known, ok := s.texts[text]; ok {
		return known
	}
	s.texts[text] = text
	return text
}
