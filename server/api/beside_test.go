package api_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

// drawnStream is the messages of a stream with rows that are held, rejected and of no site, and
// its answers by a service that answers nothing else, chunk by chunk.
type drawnStream struct {
	messages []*treatmentv1.PrescribeStreamRequest
	answers  [][]byte
}

func (d draw) stream(t *testing.T, alone *api.Treatment, name string) drawnStream {
	of := &treatmentv1.StreamBegin{Date: midsummer(), Sites: d.sites(1 + d.IntN(5))}
	for i, s := range of.Sites {
		s.SiteId, s.AreaM2 = fmt.Sprint(name, " ", i), ptr(float64(100+d.IntN(900)))
	}
	drawn := drawnStream{messages: []*treatmentv1.PrescribeStreamRequest{begin(of)}}
	for first := int64(1); len(drawn.messages) < 8; {
		stems := append(d.stems(1+d.IntN(30)), d.wanting(1+d.IntN(30))...)
		c := chunkOf(first, of.Sites[0].SiteId, stems)
		for i := range c.Site {
			c.Site[i] = indexOf(c, of.Sites[d.IntN(len(of.Sites))].SiteId)
			if d.IntN(30) == 0 {
				c.Site[i] = indexOf(c, "no site of "+name)
			}
		}
		drawn.messages, first = append(drawn.messages, chunk(c)), first+int64(len(stems))
	}
	answered := &direct{messages: append([]*treatmentv1.PrescribeStreamRequest{}, drawn.messages...)}
	require.NoError(t, alone.PrescribeStream(answered))
	for _, a := range answered.answers {
		drawn.answers = append(drawn.answers, bytesOf(t, a))
	}
	return drawn
}

// ways are how a stream comes to its end.
const (
	wayWhole = iota
	wayCancelled
	wayOutOfOrder // a chunk
	ways
)

// ask sends a stream one of these ways, and says what is wrong with its answers.
func (s *drawnStream) ask(ctx context.Context, c clients, way int) error {
	var sending sync.WaitGroup
	defer sending.Wait()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // first, or who sends may wait for room for ever
	stream, err := c.PrescribeStream(ctx)
	if err != nil {
		return err
	}
	sending.Go(func() {
		for i, m := range s.messages {
			switch {
			case way == wayOutOfOrder && i == 4:
				m = s.messages[1]
			case way == wayCancelled && i == 5:
				cancel()
			}
			if stream.Send(m) != nil {
				return // the error is what Recv gives
			}
		}
		_ = stream.CloseSend()
	})
	for n := 0; ; n++ {
		a, err := stream.Recv()
		ended := errors.Is(err, io.EOF)
		switch {
		case err == nil && n < len(s.answers):
			text, err := proto.MarshalOptions{Deterministic: true}.Marshal(a)
			if err != nil || !bytes.Equal(text, s.answers[n]) {
				return errors.Join(fmt.Errorf("answer %d is another", n), err)
			}
		case way == wayWhole && ended && n == len(s.answers), way == wayCancelled && err != nil && !ended, way == wayOutOfOrder && !ended && n == 3:
			return nil
		default:
			return fmt.Errorf("after %d answers of %d: %v", n, len(s.answers), err)
		}
	}
}

// everyCodec serves with and without the codec of the server, each to clients with and without it.
func everyCodec(t *testing.T, service *api.Treatment) (served []clients) {
	register := func(s grpc.ServiceRegistrar) { treatmentv1.RegisterTreatmentServiceServer(s, service) }
	quick := grpc.WithDefaultCallOptions(grpc.ForceCodecV2(columnar.Codec()))
	for _, options := range [][]grpc.ServerOption{nil, api.Options()} {
		served = append(served, serveOn(t, register, options), serveOn(t, register, options, quick))
	}
	return served
}

// Streams beside each other, with each codec and some that fail, do not meet in the memory that
// they take over from others: each is answered as by a service of its own.
func TestStreamsBesideEachOtherAreAnsweredAsAlone(t *testing.T) {
	law := edition(lawOf(nation(t), state(t), creek(t), fen(t)), "one")
	known, err := shipped()
	require.NoError(t, err)
	with := api.Services{Catalogue: known, Current: func() api.Law { return law }}
	service := api.NewTreatment(with)
	api.Propose(t, 1)
	var streams []drawnStream
	for seed := range uint64(6) {
		streams = append(streams, newDraw(seed).stream(t, api.NewTreatment(with), fmt.Sprint("stream ", seed)))
	}
	for _, proposers := range []int{1, 3} {
		t.Run(fmt.Sprintf("%d proposers", proposers), func(t *testing.T) {
			api.Propose(t, proposers)
			served := everyCodec(t, service)
			var asking sync.WaitGroup
			for beside := range 4 {
				asking.Go(func() {
					for i := range 3 * ways {
						s, c := &streams[(beside+5*i)%len(streams)], served[(beside+i)%len(served)]
						assert.NoError(t, s.ask(t.Context(), c, (beside+i)%ways), "%d.%d", beside, i)
					}
				})
			}
			asking.Wait()
		})
	}
}
