package api

import (
	"google.golang.org/grpc"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/treatment"
)

// Register adds the services to a server. The catalogue must not change afterwards.
func Register(s grpc.ServiceRegistrar, c *treatment.Catalogue, current Current) {
	treatmentv1.RegisterTreatmentServiceServer(s, NewTreatment(c, current))
	rulesetv1.RegisterRuleSetServiceServer(s, NewRuleSet(current))
}
