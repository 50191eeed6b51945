package rulehost_test

import (
	"crypto/x509"
	"testing"
	"time"

	"github.com/hashicorp/go-hclog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/rulehost"
)

// What go-plugin v1.8.0 offers and is not to be used: a checksum that is taken of one
// file before another is opened by the same name, and that serves once; the broker,
// by which a plugin could offer more than its service; the host's environment; keys that
// take long to make; a logger that panics at what a plugin writes.
func TestWhatIsAskedOfGoPlugin(t *testing.T) {
	c := rulehost.ClientConfig()
	assert.Nil(t, c.SecureConfig)
	assert.False(t, c.GRPCBrokerMultiplex)
	assert.Nil(t, c.Cmd)
	assert.True(t, c.SkipHostEnv)
	assert.False(t, c.AutoMTLS)
	assert.Equal(t, x509.NewCertPool(), c.TLSConfig.RootCAs, "trusts nobody before the plugin has shown its certificate")
	assert.Len(t, c.TLSConfig.Certificates, 1)
	assert.NotEqual(t, rulehost.ClientConfig().TLSConfig.Certificates, c.TLSConfig.Certificates, "one for each start")
	assert.Equal(t, hclog.Off, c.Logger.GetLevel())
	assert.Equal(t, "/nowhere", c.UnixSocketConfig.TempDir)
}

// A plugin takes messages of at most 4 MiB. The temperatures of these sites have
// three times that.
func TestLongSeriesAreAskedInChunks(t *testing.T) {
	m := hostOf(t, "high-tarn", nil)
	sites := make([]rules.SiteFacts, 4_000)
	for i := range sites {
		s := &rules.TemperatureSeries{First: civil.Of(2026, 1, 1)}
		for day := range 365 {
			s.Min, s.Max = append(s.Min, 12_00+int32(i)), append(s.Max, 20_00+int32(i+day))
		}
		sites[i] = rules.SiteFacts{
			HasPosition: true, Latitude: 41_200_000_0, Longitude: -79_500_000_0,
			HasElevation: true, Elevation: 1_200 * quantity.Foot, Temperatures: s,
		}
	}
	g := m.Catalog().Govern("us/velmora/high-tarn", demoDay)
	bark := leaves()
	bark.Method = rules.BasalBark
	laws := m.Compute(t.Context(), g, sites)
	for i, law := range laws {
		for _, f := range law.Narrow(bark).Explain(&rules.Surroundings{}) {
			require.Equal(t, rules.Allowed, f.Decision, "site %d: %v", i, f.Missing)
		}
	}
	assert.Zero(t, m.status(t).Failures)
}

func BenchmarkCompute(b *testing.B) {
	m := hostOf(b, "high-tarn", func(c *rulehost.Config) { c.Now = time.Now })
	sites := make([]rules.SiteFacts, 1_000)
	for i := range sites {
		sites[i] = rules.SiteFacts{
			HasPosition: true, Latitude: 41_200_000_0 + int32(i), Longitude: -79_500_000_0,
			HasElevation: true, Elevation: 1_200 * quantity.Foot,
		}
	}
	day := demoDay
	b.Run("asked, 1000 sites", func(b *testing.B) {
		for b.Loop() {
			day++
			m.Compute(b.Context(), m.Catalog().Govern("us/velmora/high-tarn", day), sites)
		}
	})
	b.Run("kept, 1000 sites", func(b *testing.B) {
		g := m.Catalog().Govern("us/velmora/high-tarn", day)
		for b.Loop() {
			m.Compute(b.Context(), g, sites)
		}
	})
	b.Run("asked, 1 site", func(b *testing.B) {
		for b.Loop() {
			day++
			m.Compute(b.Context(), m.Catalog().Govern("us/velmora/high-tarn", day), sites[:1])
		}
	})
	b.Run("kept, 1 site", func(b *testing.B) {
		g := m.Catalog().Govern("us/velmora/high-tarn", day)
		for b.Loop() {
			m.Compute(b.Context(), g, sites[:1])
		}
	})
}
