package app_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulerelease"
)

// asOperator is the environment of a server that runs what is signed alone.
var asOperator = []string{"ROOTWARD_UNSIGNED=none-of-them"}

// signed makes a folder with signed releases of two rule sets, of which the lock
// pins nothing yet.
func signed(t *testing.T, names ...string) (dir string, trust *rulerelease.Trust) {
	t.Helper()
	dir = t.TempDir()
	private, verifier, err := rulerelease.NewKey("lands", nil)
	require.NoError(t, err)
	text := "agencies:\n  - name: Lands\n    keys: [" + verifier + "]\n    places: [us]\n    layers: [federal, state, district]\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, rulerelease.TrustFile), []byte(text), 0o600))
	for _, name := range names {
		path := filepath.Join(dir, name)
		require.NoError(t, os.Link(filepath.Join(ruleFolder, name), path))
		note, err := rulerelease.Sign(releaseOf(t, path), private)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path+rulerelease.Extension, note, 0o600))
	}
	trust, err = rulerelease.ReadTrust(dir)
	require.NoError(t, err)
	return dir, trust
}

func releaseOf(t *testing.T, path string) rulerelease.Release {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), path, ruleplugin.DescribeFlag).Output()
	require.NoError(t, err)
	d, err := ruleplugin.ReadDescription(bytes.TrimSpace(out))
	require.NoError(t, err)
	layer, err := rules.ParseWord[rules.Layer](d.Layer)
	require.NoError(t, err)
	sum, err := rulerelease.Sum(path)
	require.NoError(t, err)
	return rulerelease.Release{
		RuleSet: d.RuleSetID, Version: d.Version, Layer: layer, Scope: d.Scope,
		Contract: d.ContractVersion, Binary: sum, Table: d.Digest,
	}
}

func activeOn(t *testing.T, conn *grpc.ClientConn) []string {
	t.Helper()
	r, err := rulesetv1.NewRuleSetServiceClient(conn).ListRuleSets(t.Context(), &rulesetv1.ListRuleSetsRequest{})
	require.NoError(t, err)
	ids := []string{}
	for _, s := range r.RuleSets {
		ids = append(ids, s.Ref.RuleSetId)
	}
	return ids
}

func TestServesWhatIsSignedAndPinnedAlone(t *testing.T) {
	dir, trust := signed(t, "federal", "velmora")
	_, err := rulerelease.Pin(dir, []string{"federal"}, trust, time.Now(), "A. Operator")
	require.NoError(t, err)
	require.NoError(t, os.Link(filepath.Join(ruleFolder, "ossel-creek"), filepath.Join(dir, "ossel-creek")))
	p := start(t, asOperator, "--listen=unix:"+socket(t), "--rules="+dir)
	assert.Equal(t, []string{"federal"}, activeOn(t, p.dial(t, nil)))
	p.stop()
	assert.Zero(t, p.ended(t))
	assert.Contains(t, p.log.String(), `"message":"confinement of rule plugins"`)
	assert.Contains(t, p.log.String(), `"plugin":"ossel-creek","problem":"was not run: it is not signed`)
}

func TestAHangupLoadsTheRuleSetsAnew(t *testing.T) {
	dir, trust := signed(t, "federal", "velmora")
	_, err := rulerelease.Pin(dir, []string{"federal"}, trust, time.Now(), "A. Operator")
	require.NoError(t, err)
	p := start(t, asOperator, "--listen=unix:"+socket(t), "--rules="+dir)
	conn := p.dial(t, nil)
	require.Equal(t, []string{"federal"}, activeOn(t, conn))
	_, err = rulerelease.Pin(dir, []string{"velmora"}, trust, time.Now(), "A. Operator")
	require.NoError(t, err)
	require.NoError(t, syscall.Kill(os.Getpid(), syscall.SIGHUP))
	assert.Eventually(t, func() bool { return len(activeOn(t, conn)) == 2 }, time.Minute, 20*time.Millisecond)
}

func TestRuleSetsChangeOnlyWhereTheOperatorAllowsIt(t *testing.T) {
	dir, trust := signed(t, "federal")
	lock, err := rulerelease.Pin(dir, nil, trust, time.Now(), "A. Operator")
	require.NoError(t, err)
	retire := &rulesetv1.RetireRuleSetRequest{
		RuleSetId: "federal", ActiveDigest: lock.Active("federal").Release.Table, DecidedBy: "A. Operator",
	}
	for _, c := range []struct {
		flags []string
		code  codes.Code
	}{
		{nil, codes.PermissionDenied},
		{[]string{"--allow-rule-changes"}, codes.OK},
	} {
		p := start(t, asOperator, append(c.flags, "--listen=unix:"+socket(t), "--rules="+dir)...)
		_, err := rulesetv1.NewRuleSetServiceClient(p.dial(t, nil)).RetireRuleSet(t.Context(), retire)
		assert.Equal(t, c.code, status.Code(err), "%v", err)
		p.stop()
		assert.Zero(t, p.ended(t))
	}
	lock, err = rulerelease.ReadLock(dir)
	require.NoError(t, err)
	assert.Nil(t, lock.Active("federal"))
}

func TestTheHostTellsHowItConfines(t *testing.T) {
	dir, _ := signed(t, "federal")
	p := start(t, asOperator, "--listen=unix:"+socket(t), "--rules="+dir)
	r, err := rulesetv1.NewRuleSetServiceClient(p.dial(t, nil)).GetHostStatus(t.Context(), &rulesetv1.GetHostStatusRequest{})
	require.NoError(t, err)
	assert.NotEmpty(t, r.Layers)
}

func TestAFolderThatCannotBeReadIsNamed(t *testing.T) {
	dir, _ := signed(t)
	require.NoError(t, os.WriteFile(filepath.Join(dir, rulerelease.LockFile), []byte("format: 7\n"), 0o600))
	code, says := fails(t, "--listen=unix:"+socket(t), "--rules="+dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, says, "rules.lock:1:9: format: is 7 and this program reads 1")
}
