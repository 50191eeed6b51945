package command_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/daemon"
)

// nextEdition builds the draft of the demo state's next edition.
var nextEdition = sync.OnceValues(func() (string, error) {
	folder := filepath.Join(bin, "editions")
	return filepath.Join(folder, "velmora-2027"), goBuild(folder, []string{"example.org/rootward/plugins/editions/velmora-2027"})
})

// releases is a folder with the demo's rule sets and the draft of the next edition.
func releases(t *testing.T) string {
	t.Helper()
	draft, err := nextEdition()
	require.NoError(t, err)
	folder := t.TempDir()
	for _, name := range ruleSets {
		require.NoError(t, os.Link(filepath.Join(bin, "rules", name), filepath.Join(folder, name)))
	}
	require.NoError(t, os.Link(draft, filepath.Join(folder, "velmora-2027")))
	return folder
}

// changeable runs a server that lets its rule sets be changed. Of two builds of a set
// that nobody has signed the server takes neither for the active one, so the folder
// is signed and pinned.
func changeable(t *testing.T) (address, folder string) {
	t.Helper()
	folder = releases(t)
	sign(t, folder, "federal", "velmora", "ossel-creek", "velmora-2027")
	got := direct(t, "rules", "pin", folder, "--decided-by", "A. Operator", "--file", "federal", "--file", "velmora", "--file", "ossel-creek")
	require.Zero(t, got.code, got.stderr)
	t.Setenv("ROOTWARD_ALLOW_RULE_CHANGES", "true")
	t.Setenv("TMPDIR", shortFolder(t))
	d, err := daemon.Start(t.Context(), daemon.Options{Program: filepath.Join(bin, "rootwardd"), Rules: folder})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, d.Close()) })
	return d.Address, folder
}

// sign makes a key, signs the builds of a folder, and has the folder trust it.
func sign(t *testing.T, folder string, names ...string) {
	t.Helper()
	keys := t.TempDir()
	made := direct(t, "rules", "keygen", "lands", "--out", keys)
	require.Zero(t, made.code, made.stderr)
	lines := strings.Split(strings.TrimSpace(made.stdout), "\n")
	for _, name := range names {
		got := direct(t, "rules", "sign", filepath.Join(folder, name), "--key", filepath.Join(keys, "lands.key"))
		require.Zero(t, got.code, got.stderr)
	}
	trust := "agencies:\n  - name: Lands\n    keys:\n" + lines[len(lines)-1] + "\n    places: [us]\n    layers: [federal, state, district]\n    threshold: 1\n    first_party: true\n"
	require.NoError(t, os.WriteFile(filepath.Join(folder, "trust.yaml"), []byte(trust), 0o600))
}

var (
	digests = regexp.MustCompile(`\b[0-9a-f]{64}\b|sha256 [0-9a-f]{12}\b`)
	sockets = regexp.MustCompile(`unix:\S+`)
)

// alike takes from a text what differs with every build and run.
func alike(text string) string {
	text = digests.ReplaceAllStringFunc(text, func(s string) string {
		if strings.HasPrefix(s, "sha256") {
			return "sha256 START"
		}
		return "DIGEST"
	})
	return sockets.ReplaceAllString(text, "unix:SOCKET")
}

// matrix reads the numbers of the matrix that rules compare writes, by line.
func matrix(t *testing.T, text string) map[string][]int {
	t.Helper()
	lines := map[string][]int{}
	for _, line := range strings.Split(text, "\n") {
		for _, name := range []string{"prescribed", "deferred", "undetermined", "rejected", "all"} {
			var n [5]int
			if rest, ok := strings.CutPrefix(line, "  "+name+" "); ok {
				if count, _ := fmt.Sscan(rest, &n[0], &n[1], &n[2], &n[3], &n[4]); count == 5 {
					lines[name] = n[:]
				}
			}
		}
	}
	require.Len(t, lines, 5, text)
	return lines
}

func TestAComparisonHasTheCountsOfBothLawsAlone(t *testing.T) {
	address, _ := changeable(t)
	query := []string{"--date", "2026-10-20", "--standing", "certified", "--server", address}
	counts := func() map[string]int {
		path := filepath.Join(t.TempDir(), "result.csv")
		got := direct(t, append([]string{"prescribe", demo, "--out-csv", path}, query...)...)
		require.Zero(t, got.code, got.stderr)
		return outcomes(table(t, path))
	}
	before := counts()
	compared := direct(t, append([]string{"rules", "compare", "active:velmora", "velmora@2027-draft", "--inventory", demo}, query...)...)
	require.Zero(t, compared.code, compared.stderr)
	golden(t, "compare.golden", alike(compared.stdout))
	assert.Equal(t, before, counts(), "a table on trial changes nothing")

	activate := strings.Fields(strings.ReplaceAll(compared.stdout[strings.LastIndex(compared.stdout, "rootward rules activate"):], "\\", ""))
	for i, word := range activate {
		if word == "WHO" {
			activate[i] = "A. Operator"
		}
	}
	did := direct(t, activate[1:]...)
	require.Zero(t, did.code, did.stderr)
	contains(t, did.stdout, "active: velmora 2027-draft", "instead of velmora 2024")
	after := counts()

	got := matrix(t, compared.stdout)
	for i, name := range []string{"prescribed", "deferred", "undetermined", "rejected"} {
		assert.Equal(t, before[name], got[name][4], name)
		assert.Equal(t, after[name], got["all"][i], name)
	}
	assert.Equal(t, 551, got["all"][4])
	lifted := got["deferred"][0] + got["undetermined"][0]
	assert.Positive(t, lifted)
	at := strings.Index(compared.stdout, "LIFTED: ")
	assert.Positive(t, at)
	assert.Less(t, at, strings.Index(compared.stdout, "AS BEFORE"), "what is lifted stands first")
}

func TestRuleSetsAreChangedAtARunningServer(t *testing.T) {
	address, _ := changeable(t)
	at := func(args ...string) outcome {
		return direct(t, append(append([]string{"rules"}, args...), "--server", address)...)
	}
	listed := at("releases", "velmora")
	require.Zero(t, listed.code, listed.stderr)
	contains(t, listed.stdout, "velmora 2024: ACTIVE", "velmora 2027-draft: ELIGIBLE", "signed by lands")

	hasty := at("activate", "velmora@2027-draft", "--compared-with", "velmora@2024", "--decided-by", "A. Operator")
	assert.Equal(t, 1, hasty.code)
	contains(t, hasty.stderr, "NOT_COMPARED", "rootward rules compare")

	require.Zero(t, at("compare", "velmora@2024", "velmora@2027-draft").code)
	did := at("activate", "velmora@2027-draft", "--compared-with", "velmora@2024", "--decided-by", "A. Operator")
	require.Zero(t, did.code, did.stderr)
	assert.Equal(t, 1, at("rollback", "velmora", "--active", "velmora@2024", "--decided-by", "A. Operator").code, "it is not the active one")
	back := at("rollback", "velmora", "--active", "active:velmora", "--decided-by", "A. Operator")
	require.Zero(t, back.code, back.stderr)
	contains(t, back.stdout, "active: velmora 2024")

	gone := at("retire", "velmora", "--active", "velmora@2024", "--decided-by", "A. Operator")
	require.Zero(t, gone.code, gone.stderr)
	contains(t, gone.stdout, "retired: velmora 2024", "undetermined from now on")
	none := at("compare", "active:velmora", "velmora@2024")
	assert.Equal(t, 1, none.code)
	contains(t, none.stderr, `no table of rule set "velmora" is active`, "none stands for no table")
	again := at("compare", "none", "velmora@2024")
	require.Zero(t, again.code, again.stderr)
	contains(t, again.stdout, "old no table", "--compared-with none")
	first := at("activate", "velmora@2024", "--compared-with", "none", "--decided-by", "A. Operator")
	require.Zero(t, first.code, first.stderr)

	status := at("status")
	require.Zero(t, status.code, status.stderr)
	contains(t, status.stdout, "CONFINEMENT OF RULE PLUGINS", "rlimits", "PLUGINS")
}

func TestTablesThatAreNotToBeCompared(t *testing.T) {
	address, _ := changeable(t)
	for name, c := range map[string]struct {
		args []string
		code int
		want string
	}{
		"nobody's":          {[]string{"velmora@1999", "velmora@2024"}, 1, `no table is named "velmora@1999"`},
		"too short":         {[]string{"velmora@2024", "a"}, 1, "first 6 or more digits"},
		"none for new":      {[]string{"velmora@2024", "none"}, 2, "rules retire"},
		"none while active": {[]string{"none", "velmora@2027-draft"}, 1, "compare with active:velmora"},
		"no day":            {[]string{"velmora@2024", "velmora@2027-draft", "--inventory", demo}, 2, "--date is empty"},
		"no such file":      {[]string{"velmora@2024", "velmora@2027-draft", "--inventory", "none.csv", "--date", "2026-10-20"}, 1, "no such file"},
		"no such setting":   {[]string{"velmora@2024", "velmora@2027-draft", "--inventory", demo, "--date", "2026-10-20", "--formulation", "nonesuch"}, 1, "--formulation (settings.formulation_ids): "},
	} {
		t.Run(name, func(t *testing.T) {
			got := direct(t, append(append([]string{"rules", "compare"}, c.args...), "--server", address)...)
			assert.Equal(t, c.code, got.code)
			contains(t, got.stderr, c.want)
		})
	}
}

func TestAPrivateServersRuleSetsAreNotChanged(t *testing.T) {
	for name, args := range map[string][]string{
		"activate": {"activate", "velmora@2024", "--compared-with", "none", "--decided-by", "A. Operator"},
		"rollback": {"rollback", "velmora", "--active", "velmora@2024", "--decided-by", "A. Operator"},
		"retire":   {"retire", "velmora", "--active", "velmora@2024", "--decided-by", "A. Operator"},
	} {
		t.Run(name, func(t *testing.T) {
			got := direct(t, append([]string{"rules"}, args...)...)
			assert.Equal(t, 2, got.code)
			contains(t, got.stderr, "name the running server with --server")
		})
	}
	folder := releases(t)
	sign(t, folder, "federal", "velmora", "ossel-creek", "velmora-2027")
	require.Zero(t, direct(t, "rules", "pin", folder, "--decided-by", "A. Operator", "--file", "federal", "--file", "velmora", "--file", "ossel-creek").code)
	got := rootward(t, "rules", "compare", "velmora@2024", "velmora@2027-draft", "--rules", folder)
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "A private server compared them")
}
