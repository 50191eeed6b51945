package api_test

import (
	"fmt"
	"runtime"
	"testing"
	"unsafe"
	"weak"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

// grantedSites are sites of which every second was granted a reduction.
func grantedSites(n int) []*treatmentv1.Site {
	var sites []*treatmentv1.Site
	for i := range n {
		s := goodSite()
		s.SiteId = fmt.Sprint("s", i)
		if i%2 == 1 {
			s.GrantedReductions = []string{"fen/lakes", fmt.Sprint("fen/none-", i)}
		}
		sites = append(sites, s)
	}
	return sites
}

// Sites that were granted the same share their options, with each proposer, and an idle desk
// keeps no more than it may.
func TestGrantedSitesShareTheirOptions(t *testing.T) {
	const proposers, sites = 3, 300
	known, err := shipped()
	require.NoError(t, err)
	law := edition(lawOf(nation(t), state(t), creek(t), fen(t)), "one")
	stems := newDraw(5).stems(sites)
	for _, k := range []struct {
		most int
		kept func(kinds int) bool
	}{
		{512, func(kinds int) bool { return kinds >= 2 && kinds <= 2*proposers }},
		{1, func(kinds int) bool { return kinds == 0 }},
	} {
		api.Propose(t, proposers)
		api.KeepKinds(t, k.most)
		service := api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }})
		messages := []*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: grantedSites(sites)})}
		for i := range 6 {
			c := chunkOf(int64(1+sites*i), "s0", stems)
			words := int32(len(c.Words))
			for at := range sites {
				c.Words = append(c.Words, fmt.Sprint("s", at))
				c.Site[at] = words + int32(at)
			}
			messages = append(messages, chunk(c))
		}
		require.NoError(t, service.PrescribeStream(&direct{messages: messages}))
		idle, kinds := service.Idle()
		assert.Equal(t, 1, idle)
		assert.True(t, k.kept(kinds), "%d sets of options are kept", kinds)
	}
}

// An idle desk holds nothing of the last stream.
func TestAnIdleDeskHoldsNothingOfAStream(t *testing.T) {
	known, err := shipped()
	require.NoError(t, err)
	law := edition(fullLaw(t), "one")
	service := api.NewTreatment(api.Services{Catalogue: known, Current: func() api.Law { return law }})
	ids := func() weak.Pointer[byte] {
		c := chunkOf(1, goodSite().SiteId, newDraw(5).stems(300))
		require.Greater(t, len(c.StemIds), 500)
		require.NoError(t, service.PrescribeStream(&direct{messages: []*treatmentv1.PrescribeStreamRequest{
			begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{goodSite()}}), chunk(c),
		}}))
		return weak.Make(unsafe.StringData(c.StemIds))
	}()
	for range 100 {
		runtime.GC() // twice and more: what was pooled goes last
		if ids.Value() == nil {
			break
		}
	}
	assert.Nil(t, ids.Value(), "the text of the rows' ids")
	idle, _ := service.Idle()
	assert.Equal(t, 1, idle)
}
