package rulehost_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulerelease"
	"example.org/rootward/server/rulehost"
	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 8, 1, 12, 0, 0, 0, time.UTC)

// signer is a key and the trust file of an operator who trusts it.
type signer struct{ private, verifier string }

var key = sync.OnceValue(func() signer { return newKey("lands") })

func newKey(name string) signer {
	private, verifier, err := rulerelease.NewKey(name, nil)
	if err != nil {
		panic(err)
	}
	return signer{private, verifier}
}

// trust writes a trust file with one agency.
func trust(t *testing.T, dir, rest string, keys ...signer) {
	t.Helper()
	var list []string
	for _, k := range keys {
		list = append(list, k.verifier)
	}
	text := "agencies:\n  - name: Lands\n    keys: [" + strings.Join(list, ", ") + "]\n" + rest
	require.NoError(t, os.WriteFile(filepath.Join(dir, rulerelease.TrustFile), []byte(text), 0o600))
}

const everywhere = "    places: [us]\n    layers: [federal, state, district, owner, biology]\n"

// described is what builds say of themselves, by SHA-256 and name.
var described sync.Map

// releaseOf is what a build says of itself.
func releaseOf(t *testing.T, path string) rulerelease.Release {
	t.Helper()
	sum, err := rulerelease.Sum(path)
	require.NoError(t, err)
	if known, ok := described.Load(sum + filepath.Base(path)); ok {
		return known.(rulerelease.Release)
	}
	out, err := exec.CommandContext(t.Context(), path, ruleplugin.DescribeFlag).Output()
	require.NoError(t, err)
	d, err := ruleplugin.ReadDescription(bytes.TrimSpace(out))
	require.NoError(t, err)
	layer, err := rules.ParseWord[rules.Layer](d.Layer)
	require.NoError(t, err)
	r := rulerelease.Release{
		RuleSet: d.RuleSetID, Version: d.Version, Layer: layer, Scope: d.Scope,
		Contract: d.ContractVersion, Binary: sum, Table: d.Digest,
	}
	described.Store(sum+filepath.Base(path), r)
	return r
}

// sign signs a build of a folder; change changes what is signed.
func sign(t *testing.T, dir, name string, change func(*rulerelease.Release), keys ...signer) {
	t.Helper()
	r := releaseOf(t, filepath.Join(dir, name))
	if change != nil {
		change(&r)
	}
	var privates []string
	for _, k := range keys {
		privates = append(privates, k.private)
	}
	text, err := rulerelease.Sign(r, privates...)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+rulerelease.Extension), text, 0o600))
}

// released makes a folder of signed rule sets whose keys are trusted everywhere.
func released(t *testing.T, names ...string) string {
	t.Helper()
	dir := folder(t, names...)
	trust(t, dir, everywhere, key())
	for _, name := range names {
		sign(t, dir, name, nil, key())
	}
	return dir
}

// pin pins builds of a folder.
func pin(t *testing.T, dir string, names ...string) {
	t.Helper()
	trusted, err := rulerelease.ReadTrust(dir)
	require.NoError(t, err)
	_, err = rulerelease.Pin(dir, names, trusted, noon, "A. Operator")
	require.NoError(t, err)
}

// operated is the host of an operator, who runs what is signed and pinned alone.
func operated(t *testing.T, c rulehost.Config) *rulehost.Host {
	t.Helper()
	c.AllowChanges, c.Unconfined = true, []string{"all"}
	if c.Now == nil {
		c.Now = func() time.Time { return noon }
	}
	host := rulehost.New(c)
	t.Cleanup(host.Close)
	return host
}

func start(t *testing.T, dir string) *rulehost.Host {
	t.Helper()
	host := operated(t, rulehost.Config{})
	require.NoError(t, host.Load(t.Context(), dir))
	return host
}

func versions(c *rulehost.Catalog) map[string]string {
	v := map[string]string{}
	for _, s := range c.Sets {
		v[s.Ref.ID] = s.Ref.Version
	}
	return v
}

// problems gives the problems of releases by file.
func problems(t *testing.T, host *rulehost.Host) map[string]string {
	t.Helper()
	list, err := host.Releases(t.Context())
	require.NoError(t, err)
	found := map[string]string{}
	for _, r := range list {
		if r.State == rulehost.Refused {
			found[r.File] = r.Problem
		}
	}
	return found
}
