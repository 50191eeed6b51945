package rulehost_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulerelease"
	"example.org/rootward/server/rulehost"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWhatIsPinnedDecides(t *testing.T) {
	dir := released(t, "federal", "velmora", "velmora-2027")
	pin(t, dir, "federal", "velmora")
	host := start(t, dir)
	assert.Equal(t, map[string]string{"federal": federalVersion(t, host), "velmora": "2024"}, versions(host.Catalog()))
	assert.Empty(t, host.Catalog().NotLoaded)
	assert.Equal(t, rules.Conditional, decide(host.Catalog(), "us/velmora", demoDay, quantity.Mile))

	list, err := host.Releases(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 3)
	assert.Equal(t, "velmora", list[1].File)
	assert.Equal(t, rulehost.Active, list[1].State)
	assert.Equal(t, []string{"lands"}, list[1].Signers)
	assert.Equal(t, "velmora-2027", list[2].File)
	assert.Equal(t, rulehost.Eligible, list[2].State)
	assert.Equal(t, "velmora", list[2].Set.Ref.ID)
	assert.Len(t, list[2].BinaryDigest, 64)
}

func federalVersion(t *testing.T, host *rulehost.Host) string {
	t.Helper()
	s, ok := host.Catalog().Set("federal")
	require.True(t, ok)
	return s.Ref.Version
}

// What is signed and not pinned is no law yet, and what is neither is not run.
func TestWhatIsNotPinnedDoesNotDecide(t *testing.T) {
	host := start(t, released(t, "federal"))
	assert.Empty(t, host.Catalog().Sets)
	assert.Contains(t, host.Catalog().NotLoaded[0].Problem, "none of the 1 files of the folder is pinned in rules.lock")
	assert.Equal(t, rules.Undetermined, decide(host.Catalog(), "us", demoDay, quantity.Mile))
}

func TestWhatIsNotAdmitted(t *testing.T) {
	velmora := func(change func(*rulerelease.Release), keys ...signer) func(*testing.T, string) {
		return func(t *testing.T, dir string) { sign(t, dir, "velmora", change, keys...) }
	}
	deputy, stranger := newKey("deputy"), newKey("stranger")
	for name, c := range map[string]struct {
		trust string
		make  func(t *testing.T, dir string)
		want  []string
	}{
		"unsigned": {everywhere, func(*testing.T, string) {}, []string{"was not run", "it is not signed", "rules sign", "--unsigned"}},
		"no trust": {"", func(t *testing.T, dir string) {
			velmora(nil, key())(t, dir)
			require.NoError(t, os.Remove(filepath.Join(dir, "trust.yaml")))
		}, []string{"was not run: no agency is trusted"}},
		"by a stranger": {everywhere, velmora(nil, stranger), []string{"was not run: none of the known keys has signed it, only stranger"}},
		"changed after signing": {everywhere, func(t *testing.T, dir string) {
			velmora(nil, key())(t, dir)
			rewrite(t, filepath.Join(dir, "velmora"), "one byte more")
		}, []string{"was not run: the file has SHA-256", "fetch both anew"}},
		"another's release": {everywhere, func(t *testing.T, dir string) {
			install(t, dir, "federal")
			sign(t, dir, "federal", nil, key())
			require.NoError(t, os.Rename(filepath.Join(dir, "federal.release"), filepath.Join(dir, "velmora.release")))
		}, []string{"was not run: the file has SHA-256"}},
		"a changed release": {everywhere, func(t *testing.T, dir string) {
			velmora(nil, key())(t, dir)
			text, err := os.ReadFile(filepath.Join(dir, "velmora.release"))
			require.NoError(t, err)
			text = bytes.Replace(text, []byte("version 2024"), []byte("version 2025"), 1)
			require.NoError(t, os.WriteFile(filepath.Join(dir, "velmora.release"), text, 0o600))
		}, []string{"was not run: the signature of lands does not hold"}},
		"outside its places":   {"    places: [us/velmora/ossel-creek]\n    layers: [state]\n", velmora(nil, key()), []string{"was not run: Lands: it may publish for us/velmora/ossel-creek and below, not for us/velmora"}},
		"in another layer":     {"    places: [us]\n    layers: [district]\n", velmora(nil, key()), []string{"was not run: Lands: it may not publish in the layer state"}},
		"by too few":           {everywhere + "    threshold: 2\n", velmora(nil, key()), []string{"was not run: Lands: 1 of its keys signed and 2 must"}},
		"as another version":   {everywhere, velmora(func(r *rulerelease.Release) { r.Version = "2025" }, key()), []string{`gives something else than was signed: "version 2024" instead of "version 2025"`}},
		"as another rule set":  {everywhere, velmora(func(r *rulerelease.Release) { r.RuleSet = "north" }, key()), []string{`"rule-set velmora" instead of "rule-set north"`}},
		"as another place":     {everywhere, velmora(func(r *rulerelease.Release) { r.Scope = "us/north" }, key()), []string{`"scope us/velmora" instead of "scope us/north"`}},
		"as another layer":     {everywhere, velmora(func(r *rulerelease.Release) { r.Layer = rules.Owner }, key()), []string{`"layer state" instead of "layer owner"`}},
		"as another table":     {everywhere, velmora(func(r *rulerelease.Release) { r.Table = strings.Repeat("0", 64) }, key()), []string{`instead of "table sha256:0000`}},
		"of another contract":  {everywhere, velmora(func(r *rulerelease.Release) { r.Contract = 2 }, key()), []string{"speaks version 2 of the plugin contract"}},
		"that is pinned other": {everywhere, pinnedWithOtherContent, []string{"the same version never has other content", "000000000000"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := folder(t, "velmora")
			trust(t, dir, c.trust+"", key(), deputy)
			if c.trust == "" {
				trust(t, dir, everywhere, key())
			}
			c.make(t, dir)
			host := start(t, dir)
			assert.Empty(t, host.Catalog().Sets)
			for _, want := range c.want {
				assert.Contains(t, problems(t, host)["velmora"], want)
			}
		})
	}
}

// rewrite puts a file in the place of another that is linked elsewhere.
func rewrite(t *testing.T, path, more string) {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.Remove(path))
	require.NoError(t, os.WriteFile(path, append(text, more...), 0o700))
}

// pinnedWithOtherContent signs the build, and pins another table under its version.
func pinnedWithOtherContent(t *testing.T, dir string) {
	t.Helper()
	sign(t, dir, "velmora", nil, key())
	r := releaseOf(t, filepath.Join(dir, "velmora"))
	r.Table = strings.Repeat("0", 64)
	lock := (&rulerelease.Lock{}).Activate(rulerelease.Entry{Release: r, File: "velmora-2024", Since: noon, DecidedBy: "A. Operator"})
	require.NoError(t, lock.Write(dir))
}

// A program that nobody signed is not even asked what it is.
func TestWhatIsNotSignedIsNotRun(t *testing.T) {
	dir := released(t, "federal")
	pin(t, dir, "federal")
	script := "#!/bin/sh\necho it ran >&2\nexit 1\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "script"), []byte(script), 0o700))
	host := start(t, dir)
	assert.NotContains(t, problems(t, host)["script"], "it ran")
	assert.Contains(t, problems(t, host)["script"], "was not run: it is not signed")
	assert.Empty(t, host.Catalog().NotLoaded, "a stray file is no gap in the law")

	named := operated(t, rulehost.Config{Unsigned: []string{"script"}})
	require.NoError(t, named.Load(t.Context(), dir))
	assert.Contains(t, notLoaded(named.Catalog())["script"], "does not describe itself", "it was started")
}

func TestACosignedReleaseIsAdmitted(t *testing.T) {
	deputy := newKey("deputy")
	dir := folder(t, "velmora")
	trust(t, dir, everywhere+"    threshold: 2\n", key(), deputy)
	sign(t, dir, "velmora", nil, key())
	name := filepath.Join(dir, "velmora.release")
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	text, err = rulerelease.Cosign(text, deputy.private)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(name, text, 0o600))
	list, err := start(t, dir).Releases(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, rulehost.Eligible, list[0].State, list[0].Problem)
	assert.Equal(t, []string{"deputy", "lands"}, list[0].Signers)
}

func TestOneVersionWithTwoContentsIsRefused(t *testing.T) {
	build := func(version, table string) rulerelease.Release {
		return rulerelease.Release{
			RuleSet: "velmora", Version: version, Layer: rules.State, Scope: "us/velmora", Contract: 1,
			Binary: strings.Repeat("b", 64), Table: strings.Repeat(table, 64),
		}
	}
	builds := map[string]rulerelease.Release{
		"a": build("2024", "1"), "b": build("2024", "2"), "c": build("2027", "3"), "same-as-a": build("2024", "1"),
	}
	problems := rulehost.SecondContents(&rulerelease.Lock{}, builds)
	assert.Len(t, problems, 3, "the 2027 edition is the only one of its version")
	assert.Contains(t, problems["b"], "version 2024 of rule set velmora, as is another file with other content (a, b, same-as-a)")

	pinned := (&rulerelease.Lock{}).Activate(rulerelease.Entry{Release: builds["a"], File: "a", Since: noon, DecidedBy: "A. Operator"})
	problems = rulehost.SecondContents(pinned, builds)
	assert.Len(t, problems, 1, "what is pinned is that version")
	assert.Contains(t, problems, "b")
}

func TestReleasesLooksAnewAndChangesNothing(t *testing.T) {
	dir := released(t, "federal")
	pin(t, dir)
	host := start(t, dir)
	before := host.Catalog()
	install(t, dir, "velmora")
	sign(t, dir, "velmora", nil, key())
	list, err := host.Releases(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 2)
	assert.Equal(t, rulehost.Eligible, list[1].State, list[1].Problem)
	assert.Same(t, before, host.Catalog())
	assert.Empty(t, list[1].Problem)

	digest := list[1].Set.Ref.Digest
	require.NoError(t, os.Remove(filepath.Join(dir, "velmora")))
	list, err = host.Releases(t.Context())
	require.NoError(t, err)
	assert.Len(t, list, 1)
	_, err = host.Admitted(digest)
	assert.NoError(t, err, "who holds a digest can go on reading the table")
}

func TestATrialChangesOneCatalogAlone(t *testing.T) {
	dir := released(t, "federal", "velmora", "velmora-2027")
	pin(t, dir, "federal", "velmora")
	host := start(t, dir)
	list, err := host.Releases(t.Context())
	require.NoError(t, err)
	trial, err := host.Trial([]string{list[2].Set.Ref.Digest})
	require.NoError(t, err)
	assert.Equal(t, "2027-draft", versions(trial)["velmora"])
	assert.Equal(t, "2024", versions(host.Catalog())["velmora"])
	_, err = host.Trial([]string{list[2].Set.Ref.Digest, list[1].Set.Ref.Digest})
	assertRefused(t, err, "OVERLAP")
	_, err = host.Trial([]string{"nonsense"})
	assertRefused(t, err, "UNKNOWN_DIGEST")
	_, err = host.Admitted("nonsense")
	assertRefused(t, err, "UNKNOWN_DIGEST")
}

func assertRefused(t *testing.T, err error, word string) {
	t.Helper()
	var refusal interface{ Refusal() string }
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, word, refusal.Refusal(), "%v", err)
}
