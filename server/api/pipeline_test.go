package api_test

import (
	"context"
	"io"
	"runtime"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

// faultyStream gives its messages, and then panics or ends, and panics where it is to send.
type faultyStream struct {
	grpc.ServerStream
	ctx      context.Context
	messages []*treatmentv1.PrescribeStreamRequest
	ends     bool
}

func (s *faultyStream) Context() context.Context { return s.ctx }

func (s *faultyStream) Recv() (*treatmentv1.PrescribeStreamRequest, error) {
	if len(s.messages) == 0 && s.ends {
		return nil, io.EOF
	}
	if len(s.messages) == 0 {
		panic("nothing to receive")
	}
	m := s.messages[0]
	s.messages = s.messages[1:]
	return m, nil
}

func (s *faultyStream) RecvMsg(m any) error { return receive(m, s) }

func (s *faultyStream) Send(*treatmentv1.PrescribeStreamResponse) error { panic("nowhere to send") }

// A panic where a stream receives or sends is one of the call, which the server
// survives, not of a goroutine beside it, which it would not.
func TestPanicsOfAStreamAreThoseOfTheCall(t *testing.T) {
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	service := api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }})
	first := begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})
	rows := chunk(chunkOf(1, goodSite().GetSiteId(), []*treatmentv1.Stem{goodStem()}))
	for message, s := range map[string]*faultyStream{
		"nothing to receive": {messages: []*treatmentv1.PrescribeStreamRequest{first}},
		"nowhere to send":    {messages: []*treatmentv1.PrescribeStreamRequest{first, rows}, ends: true},
	} {
		s.ctx = t.Context()
		func() {
			defer func() { assert.Contains(t, recover(), message) }()
			_ = service.PrescribeStream(s)
		}()
	}
}

// slowStream is a faultyStream that is still sending when there is nothing to receive.
type slowStream struct {
	faultyStream
	sending         atomic.Int32
	began, panicked chan struct{}
}

func (s *slowStream) Send(*treatmentv1.PrescribeStreamResponse) error {
	s.sending.Add(1)
	defer s.sending.Add(-1)
	close(s.began)
	<-s.panicked
	for range 1_000 {
		runtime.Gosched() // the call would be over by now
	}
	return nil
}

func (s *slowStream) Recv() (*treatmentv1.PrescribeStreamRequest, error) {
	if len(s.messages) == 0 {
		<-s.began
		defer close(s.panicked)
		panic("nothing to receive")
	}
	return s.faultyStream.Recv()
}

func (s *slowStream) RecvMsg(m any) error { return receive(m, s) }

// Nothing is sent any more once a call is over, one that panicked, too.
func TestNothingIsSentAfterACallThatPanicked(t *testing.T) {
	known, err := shipped()
	require.NoError(t, err)
	law := fullLaw(t)
	service := api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }})
	first := begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}})
	rows := chunk(chunkOf(1, goodSite().GetSiteId(), []*treatmentv1.Stem{goodStem()}))
	s := &slowStream{faultyStream: faultyStream{ctx: t.Context(), messages: []*treatmentv1.PrescribeStreamRequest{first, rows}}, began: make(chan struct{}), panicked: make(chan struct{})}
	func() {
		defer func() { assert.NotNil(t, recover()) }()
		_ = service.PrescribeStream(s)
	}()
	assert.Zero(t, s.sending.Load(), "still sending after the call")
}
