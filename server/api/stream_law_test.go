package api_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/api"
)

const otherDistrict = "us/velmora/ossel-fen"

// slowLaw computes at two districts, once each is done with what it is given to do.
func slowLaw(t *testing.T, do map[string]func(context.Context)) api.Law {
	computed := func(id, place string) *rules.Set {
		return setOf(t, id, rules.District, place,
			row("by-plugin", rules.Selector{}, rules.Computed{Method: "a method for tests", Needs: rules.AnyOf(rules.FactElevation)}))
	}
	law := lawOf(nation(t), state(t), computed("near", district), computed("far", otherDistrict))
	law.Compute = func(ctx context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
		do[g.Place](ctx)
		return slices.Repeat([]*rules.Governing{g.Resolve(map[*rules.Row]rules.Answer{g.Computed()[0].Row: {Kind: rules.NotRestricted, Words: "low"}})}, len(sites))
	}
	return edition(law, "slow")
}

// reached fails where something that others bring about does not happen.
func reached(t *testing.T, done <-chan struct{}, what string) {
	select {
	case <-done:
	case <-time.After(20 * time.Second):
		t.Error(what)
	}
}

// atTwoPlaces sends a chunk of a row at each district, the first with a number.
func atTwoPlaces(t *testing.T, firstRow int64, do map[string]func(context.Context)) (*api.Treatment, *direct) {
	known, err := shipped()
	require.NoError(t, err)
	law := slowLaw(t, do)
	near, far := goodSite(), goodSite()
	far.SiteId, far.Place = "far", otherDistrict
	return api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }}), &direct{messages: []*treatmentv1.PrescribeStreamRequest{
		begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{near, far}}),
		chunk(chunkOf(firstRow, near.SiteId, []*treatmentv1.Stem{goodStem()})), chunk(chunkOf(2, far.SiteId, []*treatmentv1.Stem{goodStem()})),
	}}
}

// What is computed for one place does not wait for what is computed for another.
func TestPlacesDoNotWaitForEachOther(t *testing.T) {
	api.Propose(t, 2)
	near, far := make(chan struct{}), make(chan struct{})
	service, stream := atTwoPlaces(t, 1, map[string]func(context.Context){
		district:      func(context.Context) { close(near); reached(t, far, "the other place waits for this one") },
		otherDistrict: func(context.Context) { close(far); reached(t, near, "the other place waits for this one") },
	})
	require.NoError(t, service.PrescribeStream(stream))
	for _, a := range stream.answers[:2] {
		assert.Equal(t, []byte{byte(treatmentv1.Outcome_OUTCOME_PRESCRIBED)}, a.GetChunk().Outcome)
	}
	idle, _ := service.Idle()
	assert.Equal(t, 1, idle)
}

// Where a chunk fails, nobody waits for the law of those behind it, and until then what it
// waits for itself goes on.
func TestAnErrorDoesNotWaitForTheLawOfChunksBehind(t *testing.T) {
	api.Propose(t, 2)
	asked := make(chan struct{})
	service, stream := atTwoPlaces(t, 99, map[string]func(context.Context){
		district: func(ctx context.Context) {
			reached(t, asked, "the chunk behind is not proposed for")
			assert.NoError(t, ctx.Err())
		},
		otherDistrict: func(ctx context.Context) { close(asked); reached(t, ctx.Done(), "it is waited for") },
	})
	assert.ErrorContains(t, service.PrescribeStream(stream), "row 1 is due")
}

// A panic for a chunk behind one that fails is one of the call, and nobody uses the desk
// again.
func TestAPanicBehindAnErrorIsHeardOf(t *testing.T) {
	api.Propose(t, 2)
	asked := make(chan struct{})
	service, stream := atTwoPlaces(t, 99, map[string]func(context.Context){
		district: func(context.Context) { reached(t, asked, "the chunk behind is not proposed for") },
		otherDistrict: func(ctx context.Context) {
			close(asked)
			reached(t, ctx.Done(), "it is waited for")
			panic("no such law")
		},
	})
	func() {
		defer func() { assert.Contains(t, recover(), "no such law") }()
		_ = service.PrescribeStream(stream)
	}()
	idle, _ := service.Idle()
	assert.Zero(t, idle)
}
