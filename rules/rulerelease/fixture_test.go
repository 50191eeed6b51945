package rulerelease_test

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 8, 1, 12, 0, 0, 0, time.UTC)

// key is one person's key.
type key struct{ private, verifier string }

func newKey(t testing.TB, name string) key {
	t.Helper()
	private, verifier, err := rulerelease.NewKey(name, nil)
	require.NoError(t, err)
	return key{private, verifier}
}

func sha(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// release is a sound release of a version of the demo state's rules.
func release(version string) rulerelease.Release {
	return rulerelease.Release{
		RuleSet: "velmora", Version: version, Layer: rules.State, Scope: "us/velmora", Contract: 1,
		Binary: sha("binary " + version), Table: sha("table " + version),
	}
}

func entry(version string) rulerelease.Entry {
	return rulerelease.Entry{Release: release(version), File: "velmora-" + version, Signers: []string{"lands"}, Since: noon, DecidedBy: "A. Operator"}
}

// trusting is a trust file with one agency that may publish for the demo state.
func trusting(t testing.TB, threshold string, keys ...key) *rulerelease.Trust {
	t.Helper()
	var list []string
	for _, k := range keys {
		list = append(list, k.verifier)
	}
	text := "agencies:\n  - name: Velmora Lands\n    keys: [" + strings.Join(list, ", ") + "]\n" +
		"    places: [us/velmora]\n    layers: [state, district]\n    threshold: " + threshold + "\n"
	trust, err := rulerelease.ParseTrust([]byte(text), "trust.yaml")
	require.NoError(t, err)
	return trust
}

// put writes a build of a release and its signed release into a folder.
func put(t *testing.T, dir, file string, r rulerelease.Release, k key) {
	t.Helper()
	content := "build " + file + r.Version
	r.Binary = sha(content)
	signed, err := rulerelease.Sign(r, k.private)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(content), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(dir, file+rulerelease.Extension), signed, 0o600))
}
