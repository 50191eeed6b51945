package api

import (
	"runtime"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/experimental"

	"example.org/rootward/proto/columnar"
	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	waterv1 "example.org/rootward/proto/gen/rootward/water/v1"
	"example.org/rootward/server/treatment"
	"example.org/rootward/server/water"
)

// Services is what the services are made from.
type Services struct {
	Catalogue *treatment.Catalogue // must not change afterwards
	Current   Current
	Host      RuleHost         // nil: the law is fixed
	Water     CurrentWater     // nil: no water layers
	Batches   Batches          // nil: InventoryService keeps none
	Ledger    Ledger           // nil: CampaignService keeps none
	Aside     OpenAside        // for sums of very many sites; nil: they stay in memory
	Version   string           // of the program, equal for equal builds alone
	Now       func() time.Time // the clock of campaigns; nil: the machine's
}

// CurrentWater gives the water layers that a server holds now, nil without any. It is
// safe from any goroutine.
type CurrentWater func() *water.Layers

func (c CurrentWater) now() *water.Layers {
	if c == nil {
		return nil
	}
	return c()
}

// Options are what a server of the services is made with. Its workers answer calls on stacks
// that have grown: a new goroutine's is copied twice and more before it is as deep as a
// call. A call that finds no worker idle has a goroutine of its own. Messages come in buffers
// that are not emptied before.
func Options() []grpc.ServerOption {
	return []grpc.ServerOption{grpc.ForceServerCodecV2(Codec()), experimental.BufferPool(columnar.Memory()), grpc.NumStreamWorkers(uint32(runtime.GOMAXPROCS(0)))}
}

// Register adds the services to a server.
func Register(s grpc.ServiceRegistrar, with Services) {
	treatmentv1.RegisterTreatmentServiceServer(s, NewTreatment(with))
	inventoryv1.RegisterInventoryServiceServer(s, NewInventory(with))
	campaignv1.RegisterCampaignServiceServer(s, NewCampaign(with))
	rulesetv1.RegisterRuleSetServiceServer(s, NewRuleSet(with.Catalogue, with.Current, with.Host))
	if with.Water != nil {
		waterv1.RegisterWaterServiceServer(s, NewWater(with.Water))
	}
}
