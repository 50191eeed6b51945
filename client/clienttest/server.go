package clienttest

import (
	"context"
	"errors"
	"io"
	"net"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"

	"example.org/rootward/proto/columnar"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
)

// Stream is the server's side of PrescribeStream.
type Stream = grpc.BidiStreamingServer[treatmentv1.PrescribeStreamRequest, treatmentv1.PrescribeStreamResponse]

// Server answers a stream with the fixture's answers. Each field changes one thing.
type Server struct {
	treatmentv1.UnimplementedTreatmentServiceServer
	rulesetv1.UnimplementedRuleSetServiceServer

	// Answer says what becomes of a row; nil: AnswerFor.
	Answer func(begin *treatmentv1.StreamBegin, id string) Answer
	// Summarise makes the summary from the counts; nil: the fixture's summary with
	// these counts and without any split.
	Summarise func(begin *treatmentv1.StreamBegin, totals *treatmentv1.Totals) *treatmentv1.Summary
	// Chunk takes an answer before it is sent, to spoil it; its error ends the
	// stream.
	Chunk func(*treatmentv1.PrescriptionChunk) error
	// Begin is told what begins a stream, to which the sites that come later are added;
	// its error ends it.
	Begin func(*treatmentv1.StreamBegin) error
}

// Connect serves in memory until the test ends, and gives a client. Its errors are
// those of a broken test.
func Connect(t testing.TB, register func(*grpc.Server)) *client.Client {
	t.Helper()
	listener := bufconn.Listen(1 << 16)
	server := grpc.NewServer()
	register(server)
	done := make(chan error, 1)
	go func() { done <- server.Serve(listener) }()
	conn, err := grpc.NewClient("passthrough:///memory",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, conn.Close())
		server.Stop()
		require.NoError(t, <-done)
	})
	return client.New(conn)
}

// Register adds both services to a gRPC server.
func (s *Server) Register(to *grpc.Server) {
	treatmentv1.RegisterTreatmentServiceServer(to, s)
	rulesetv1.RegisterRuleSetServiceServer(to, s)
}

// GetRuleSet gives one of the fixture's rule sets.
func (s *Server) GetRuleSet(_ context.Context, r *rulesetv1.GetRuleSetRequest) (*rulesetv1.GetRuleSetResponse, error) {
	for _, ref := range RuleSets {
		if ref.GetRuleSetId() == r.GetRuleSetId() {
			return &rulesetv1.GetRuleSetResponse{Ref: ref, Table: Table(ref.GetRuleSetId())}, nil
		}
	}
	return nil, status.Errorf(codes.NotFound, "no rule set %q is active", r.GetRuleSetId())
}

// PrescribeStream answers chunk by chunk.
func (s *Server) PrescribeStream(stream Stream) error {
	first, err := stream.Recv()
	if err != nil {
		return err
	}
	begin := first.GetBegin()
	if begin == nil {
		return status.Error(codes.InvalidArgument, "the first message does not begin")
	}
	if s.Begin != nil {
		if err := s.Begin(begin); err != nil {
			return err
		}
	}
	totals := &treatmentv1.Totals{}
	for {
		request, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return stream.Send(&treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Summary{Summary: s.SummaryOf(begin, totals)}})
		}
		if err != nil {
			return err
		}
		if more := request.GetSites(); more != nil {
			begin.Sites = append(begin.Sites, more.GetSites()...)
			continue
		}
		chunk := s.AnswerChunk(begin, request.GetChunk(), totals)
		if s.Chunk != nil {
			if err := s.Chunk(chunk); err != nil {
				return err
			}
		}
		if err := stream.Send(&treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: chunk}}); err != nil {
			return err
		}
	}
}

// SummaryOf closes an answer.
func (s *Server) SummaryOf(begin *treatmentv1.StreamBegin, totals *treatmentv1.Totals) *treatmentv1.Summary {
	if s.Summarise != nil {
		return s.Summarise(begin, totals)
	}
	summary := Summary()
	summary.Totals = totals
	for _, u := range summary.GetSiteUses() {
		u.Seasons, u.Share = 1, nil
	}
	return summary
}

// AnswerChunk answers a chunk and counts its rows.
func (s *Server) AnswerChunk(begin *treatmentv1.StreamBegin, asked *treatmentv1.StemChunk, totals *treatmentv1.Totals) *treatmentv1.PrescriptionChunk {
	out := &answer{chunk: &treatmentv1.PrescriptionChunk{FirstRow: asked.GetFirstRow()}, at: map[*treatmentv1.Explanation]int32{}}
	for _, id := range columnar.IDs(asked) {
		a := AnswerFor(id)
		if s.Answer != nil {
			a = s.Answer(begin, id)
		}
		out.add(a)
		tell(totals, a.Outcome)
	}
	return out.chunk
}

func tell(t *treatmentv1.Totals, o treatmentv1.Outcome) {
	t.Rows++
	switch o {
	case treatmentv1.Outcome_OUTCOME_PRESCRIBED:
		t.Prescribed++
	case treatmentv1.Outcome_OUTCOME_DEFERRED:
		t.Deferred++
	case treatmentv1.Outcome_OUTCOME_UNDETERMINED:
		t.Undetermined++
	default:
		t.Rejected++
	}
}

// answer builds an answer's columns row by row.
type answer struct {
	chunk *treatmentv1.PrescriptionChunk
	at    map[*treatmentv1.Explanation]int32
}

func (c *answer) add(a Answer) {
	row := c.chunk.GetFirstRow() + int64(len(c.chunk.GetOutcome()))
	c.chunk.Outcome = append(c.chunk.Outcome, byte(a.Outcome))
	c.chunk.Explanation = append(c.chunk.Explanation, c.index(a.Explanation))
	c.dose(a.Dose)
	if a.Second != nil {
		c.chunk.SecondDoses = append(c.chunk.SecondDoses, &treatmentv1.SecondDose{Row: row, Dose: a.Second})
	}
	if len(a.Faults) > 0 {
		c.chunk.Rejections = append(c.chunk.Rejections, &treatmentv1.Rejection{Row: row, Faults: a.Faults})
	}
}

func (c *answer) index(e *treatmentv1.Explanation) int32 {
	if e == nil {
		return -1
	}
	if _, seen := c.at[e]; !seen {
		at, err := columnar.Add(c.chunk, e)
		if err != nil {
			panic(err)
		}
		c.at[e] = at
	}
	return c.at[e]
}

func (c *answer) dose(d *treatmentv1.Dose) {
	const perMl, perGram, perPound = 1000, 1e6, 453_592_370
	o := c.chunk
	if d.GetMixMl() == 0 {
		o.Dose = append(o.Dose, 0)
		return
	}
	o.Dose = append(o.Dose, int32(len(o.Stems)+1))
	o.Stems, o.Cuts = append(o.Stems, d.GetStems()), append(o.Cuts, d.GetCuts())
	for _, column := range []struct {
		values *[]int64
		ml     float64
	}{
		{&o.CutUl, d.GetCutMl()}, {&o.MixUl, d.GetMixMl()}, {&o.ProductUl, d.GetProductMl()},
		{&o.CarrierUl, d.GetCarrierMl()}, {&o.AdjuvantUl, d.GetAdjuvantMl()}, {&o.DyeUl, d.GetDyeMl()},
	} {
		*column.values = append(*column.values, int64(column.ml*perMl+0.5))
	}
	o.AeUg = append(o.AeUg, int64(d.GetAeG()*perGram+0.5))
	rate := int64(-1)
	if d.GetRateLbAePerAc() > 0 {
		rate = int64(d.GetRateLbAePerAc()*perPound + 0.5)
	}
	o.RateUgPerAc = append(o.RateUgPerAc, rate)
}
