package rulerelease_test

import (
	"testing"

	"example.org/rootward/rules/rulerelease"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func FuzzParse(f *testing.F) {
	r := release("2024")
	f.Add(r.Text())
	f.Add("rootward rule release 1\n")
	f.Fuzz(func(t *testing.T, text string) {
		r, err := rulerelease.Parse(text)
		if err == nil {
			assert.Equal(t, text, r.Text())
		}
	})
}

func FuzzOpen(f *testing.F) {
	k := newKey(f, "lands")
	signed, err := rulerelease.Sign(release("2024"), k.private)
	require.NoError(f, err)
	f.Add(signed)
	f.Fuzz(func(t *testing.T, text []byte) {
		if s, err := rulerelease.Open(text, []string{k.verifier}); err == nil {
			assert.Equal(t, release("2024"), s.Release, "nothing else was ever signed")
		}
	})
}

func FuzzParseLock(f *testing.F) {
	f.Add(ofSeveral(f).Text())
	f.Add([]byte("format: 1\nrule_sets: []\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := rulerelease.ParseLock(text, "rules.lock")
		if err != nil {
			return
		}
		back, err := rulerelease.ParseLock(l.Text(), "rules.lock")
		require.NoError(t, err)
		assert.Equal(t, string(l.Text()), string(back.Text()))
	})
}

func FuzzParseTrust(f *testing.F) {
	k := newKey(f, "lands")
	f.Add([]byte("agencies:\n  - name: Lands\n    keys: [" + k.verifier + "]\n    places: [us]\n    layers: [federal]\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		trust, err := rulerelease.ParseTrust(text, "trust.yaml")
		if err != nil {
			return
		}
		for _, a := range trust.Agencies {
			assert.NotEmpty(t, a.Name)
			assert.NotEmpty(t, a.Keys)
			assert.NotEmpty(t, a.Places)
			assert.NotEmpty(t, a.Layers)
			assert.GreaterOrEqual(t, len(a.Keys), a.Threshold)
		}
	})
}
