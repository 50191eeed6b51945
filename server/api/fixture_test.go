package api_test

import (
	"context"
	"net"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	waterv1 "example.org/rootward/proto/gen/rootward/water/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/api"
	"example.org/rootward/server/catalogue"
)

// The law of these tests is invented, and so is the place.
const district = "us/velmora/ossel-creek"

var lawFrom = civil.Of(2025, time.January, 1)

// midsummer is within the window of the invented state.
func midsummer() *date.Date { return &date.Date{Year: 2026, Month: 7, Day: 20} }

func yearly(fromMonth time.Month, fromDay int, toMonth time.Month, toDay int) civil.Window {
	return civil.Window{From: civil.DayOfYear{Month: fromMonth, Day: fromDay}, To: civil.DayOfYear{Month: toMonth, Day: toDay}}
}

func row(id string, when rules.Selector, effect rules.Effect) rules.Row {
	return rules.Row{ID: id, Purpose: "Stands for a rule.", Citation: "invented", ValidFrom: lawFrom, When: when, Effect: effect}
}

func setOf(tb testing.TB, id string, layer rules.Layer, scope string, rows ...rules.Row) *rules.Set {
	tb.Helper()
	s, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{
			ID: id, Version: "1", Title: "Invented law", Publisher: "Invented agency", Layer: layer, Scope: scope, ValidFrom: lawFrom,
		},
		Rows: rows,
	})
	require.NoError(tb, err)
	return s
}

func season(id string, s rules.Season, during civil.Window) rules.Row {
	return row(id, rules.Selector{}, rules.InSeason{Season: s, During: during})
}

// nation, state and creek are three layers of law with effects of most kinds.
func nation(tb testing.TB) *rules.Set {
	return setOf(tb, "nation", rules.Federal, "us",
		row("signed", rules.Selector{Equipment: rules.AnyOf(rules.Handgun)}, rules.Notice{To: "the neighbours", MinDays: 2}),
		row("zone", rules.Selector{Droplets: rules.AnyOf(rules.DropletMedium)}, rules.ExclusionZone{Radius: 25 * quantity.Foot}),
		row("restricted", rules.Selector{RestrictedUse: rules.AnyOf(rules.RestrictedUseProduct)}, rules.RequireStanding{AtLeast: rules.Supervised}),
	)
}

func state(tb testing.TB) *rules.Set {
	suckerers := rules.AnyOf(rules.SuckeringModerate, rules.SuckeringStrong)
	return setOf(tb, "velmora", rules.State, "us/velmora",
		season("sap", rules.SapFlow, yearly(3, 1, 5, 31)), season("leaf", rules.Growing, yearly(6, 1, 7, 14)),
		season("down", rules.Translocation, yearly(7, 15, 9, 30)), season("fall", rules.LeafDrop, yearly(10, 1, 11, 30)),
		season("rest", rules.Dormant, yearly(12, 1, 2, 28)),
		row("summer", rules.Selector{Suckering: suckerers, Methods: rules.AnyOf(rules.BasalBark, rules.HackAndSquirt, rules.LowVolumeFoliar, rules.HighVolumeFoliar)},
			rules.Window{Open: yearly(7, 15, 10, 15)}),
		row("streams", rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)},
			rules.Buffer{Water: rules.AnyOf(rules.PerennialStream, rules.Lake, rules.Wetland), Distance: 30 * quantity.Metre, From: rules.WaterEdge}),
		row("parks", rules.Selector{LandUses: rules.AnyOf(rules.Park)}, rules.Posting{Says: "what was applied"}),
		row("picloram-cap", rules.Selector{Actives: []string{"picloram"}}, rules.Cap{Active: "picloram", Rate: quantity.PoundsPerAcre(0.5)}),
	)
}

func creek(tb testing.TB) *rules.Set {
	return setOf(tb, "ossel-creek", rules.District, district,
		row("steep", rules.Selector{Ranges: []rules.Range{rules.Above(rules.Slope, 300)}, Methods: rules.AnyOf(rules.HighVolumeFoliar)}, rules.Prohibit{}),
		row("wells", rules.Selector{SoilActivity: rules.AnyOf(rules.SoilStrong)},
			rules.Buffer{Water: rules.AnyOf(rules.Well, rules.Spring, rules.Intake), Distance: 60 * quantity.Metre, From: rules.WaterEdge}),
		row("wet-ground", rules.Selector{Soil: rules.AnyOf(rules.SoilWet)}, rules.Warn{Message: "the ground is soft"}),
	)
}

// bankLaw is a district's that counts from the top of the bank.
func bankLaw(tb testing.TB) *rules.Set {
	return setOf(tb, "ossel-creek", rules.District, district,
		row("bank", rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)},
			rules.Buffer{Water: rules.AnyOf(rules.PerennialStream), Distance: 50 * quantity.Metre, From: rules.BankTop}))
}

func lawOf(sets ...*rules.Set) api.Law {
	return api.Law{
		Sets:   sets,
		Govern: func(place string, on civil.Date) *rules.Governing { return rules.Govern(place, on, sets) },
	}
}

func fullLaw(tb testing.TB) api.Law { return lawOf(nation(tb), state(tb), creek(tb)) }

var shipped = sync.OnceValues(catalogue.Default)

type clients struct {
	treatmentv1.TreatmentServiceClient
	rules   rulesetv1.RuleSetServiceClient
	water   waterv1.WaterServiceClient
	batches inventoryv1.InventoryServiceClient
}

// serve serves a law over an in-memory connection.
func serve(tb testing.TB, current api.Current) clients {
	tb.Helper()
	return serveHost(tb, current, nil)
}

// serveHost serves a law that a host can change.
func serveHost(tb testing.TB, current api.Current, host api.RuleHost) clients {
	tb.Helper()
	return serveAll(tb, api.Services{Current: current, Host: host})
}

// serveAll serves with the shipped catalogue, as the app does.
func serveAll(tb testing.TB, with api.Services) clients {
	tb.Helper()
	return serveWith(tb, with, api.Options())
}

// serveWith serves with options of the server and of its clients.
func serveWith(tb testing.TB, with api.Services, options []grpc.ServerOption, dial ...grpc.DialOption) clients {
	tb.Helper()
	known, err := shipped()
	require.NoError(tb, err)
	with.Catalogue = known
	return serveOn(tb, func(s grpc.ServiceRegistrar) { api.Register(s, with) }, options, dial...)
}

// serveOn serves what is registered. No call outlives the test.
func serveOn(tb testing.TB, register func(grpc.ServiceRegistrar), options []grpc.ServerOption, dial ...grpc.DialOption) clients {
	tb.Helper()
	listener := bufconn.Listen(1 << 20)
	server := grpc.NewServer(append(options, grpc.WaitForHandlers(true), grpc.MaxRecvMsgSize(16<<20))...) // the last as the app has it
	register(server)
	var serving sync.WaitGroup
	serving.Go(func() { _ = server.Serve(listener) }) // ends with Stop
	conn, err := grpc.NewClient("passthrough:memory", append(dial,
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(256<<20)),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }))...)
	require.NoError(tb, err)
	tb.Cleanup(func() {
		require.NoError(tb, conn.Close())
		server.Stop()
		serving.Wait()
	})
	return clients{treatmentv1.NewTreatmentServiceClient(conn), rulesetv1.NewRuleSetServiceClient(conn), waterv1.NewWaterServiceClient(conn), inventoryv1.NewInventoryServiceClient(conn)}
}

func serveFull(tb testing.TB) clients {
	law := fullLaw(tb)
	return serve(tb, func() api.Law { return law })
}

func ptr[T any](v T) *T { return &v }

// goodSite has room for anything that these tests prescribe.
func goodSite() *treatmentv1.Site {
	return &treatmentv1.Site{SiteId: "north bank", Place: district, AreaM2: ptr(50_000_000.0)}
}

// goodStem is a thin-barked stem of a root-suckering species, free of faults.
func goodStem() *treatmentv1.Stem {
	return &treatmentv1.Stem{
		StemId: "1", ScientificName: "Ailanthus altissima", Form: commonv1.GrowthForm_GROWTH_FORM_SAPLING,
		DiameterCm: ptr(6.0), HeightM: ptr(5.0),
		Desirable: commonv1.Desirable_DESIRABLE_NONE, Bark: commonv1.BarkState_BARK_STATE_DRY,
		OtherWaterBeyondM: ptr(200.0), OtherPlacesBeyondM: ptr(200.0),
	}
}
