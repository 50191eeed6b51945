package main

import (
	"context"
	"net"
	"path/filepath"
	"slices"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	"example.org/rootward/proto/columnar"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/api"
	"example.org/rootward/server/catalogue"
)

// unary compares the slowest of a hundred prescriptions of one stem with that of echoes
// of the same request, by the same server over the same connection, with the product's
// codecs and options. The server is the product's services in this process, since the product has no
// echo.
func (b *bench) unary(ctx context.Context) ([]result, error) {
	conn, closing, err := b.serveWithEcho()
	if err != nil {
		return nil, err
	}
	defer closing()
	q := oneStem()
	client := treatmentv1.NewTreatmentServiceClient(conn)
	calls := b.size(4_000, 1_000)
	var ours, echoes []time.Duration
	for range b.runs() {
		one, echo, err := slowest(calls, func() error {
			_, err := client.Prescribe(ctx, q)
			return err
		}, func() error { return conn.Invoke(ctx, echoMethod, q, &treatmentv1.PrescribeRequest{}) })
		if err != nil {
			return nil, err
		}
		ours, echoes = append(ours, one), append(echoes, echo)
	}
	slices.Sort(ours)
	slices.Sort(echoes)
	one, echo := ours[len(ours)/2], echoes[len(echoes)/2]
	return []result{{line: unaryLine, ratio: one.Seconds() / echo.Seconds(), measured: one.Round(time.Microsecond).String(), peer: echo.Round(time.Microsecond).String()}}, nil
}

// slowest makes both calls in turn, and gives the time within which 99 of 100 of each
// were answered.
func slowest(calls int, a, b func() error) (time.Duration, time.Duration, error) {
	var times [2][]time.Duration
	for range calls {
		for i, call := range []func() error{a, b} {
			d, err := took(call)
			if err != nil {
				return 0, 0, err
			}
			times[i] = append(times[i], d)
		}
	}
	for i := range times {
		slices.Sort(times[i])
	}
	return times[0][calls*99/100], times[1][calls*99/100], nil
}

const echoMethod = "/rootward.bench.v1.EchoService/Echo"

// echo answers with what it was asked.
var echo = grpc.ServiceDesc{
	ServiceName: "rootward.bench.v1.EchoService", HandlerType: (*any)(nil),
	Methods: []grpc.MethodDesc{{MethodName: "Echo", Handler: func(_ any, _ context.Context, decode func(any) error, _ grpc.UnaryServerInterceptor) (any, error) {
		q := &treatmentv1.PrescribeRequest{}
		return q, decode(q)
	}}},
}

func (b *bench) serveWithEcho() (*grpc.ClientConn, func(), error) {
	known, err := catalogue.Default()
	if err != nil {
		return nil, nil, err
	}
	listener, err := net.Listen("unix", filepath.Join(b.dir, "socket"))
	if err != nil {
		return nil, nil, err
	}
	server := grpc.NewServer(api.Options()...)
	api.Register(server, api.Services{Catalogue: known, Current: b.law})
	server.RegisterService(&echo, nil)
	go server.Serve(listener)
	conn, err := grpc.NewClient("unix:"+filepath.Join(b.dir, "socket"), grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.ForceCodecV2(columnar.Codec())))
	if err != nil {
		server.Stop()
		return nil, nil, err
	}
	return conn, func() { conn.Close(); server.Stop() }, nil
}

// law is the question's, as a server holds it.
func (b *bench) law() api.Law {
	return api.Law{Sets: b.sets, Edition: b, Govern: func(place string, on civil.Date) *rules.Governing { return rules.Govern(place, on, b.sets) }}
}

// oneStem asks for a tree by the creek.
func oneStem() *treatmentv1.PrescribeRequest {
	first := begin(1)
	return &treatmentv1.PrescribeRequest{
		Date: first.GetDate(), Settings: first.GetSettings(),
		Site: &treatmentv1.Site{SiteId: "bank", Place: "us/velmora/ossel-creek", AreaM2: new(40_000.0)},
		Stems: []*treatmentv1.Stem{{
			StemId: "one", ScientificName: "Ailanthus altissima", Form: commonv1.GrowthForm_GROWTH_FORM_TREE,
			DiameterCm: new(20.0), HeightM: new(9.0), Count: new(int64(1)),
			Desirable: commonv1.Desirable_DESIRABLE_NONE, LandUse: commonv1.LandUse_LAND_USE_FOREST,
			Soil: commonv1.SoilState_SOIL_STATE_MOIST, Bark: commonv1.BarkState_BARK_STATE_DRY,
			OtherWaterBeyondM: new(200.0),
		}},
	}
}
