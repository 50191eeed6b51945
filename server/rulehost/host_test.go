package rulehost_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
	"example.org/rootward/server/rulehost"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestLoadsEveryRuleSetOfTheFolder(t *testing.T) {
	c := load(t, folder(t, "ossel-creek", "velmora", "federal"))
	assert.Equal(t, []string{"federal", "velmora", "ossel-creek"}, ids(c), "the widest layer first")
	assert.Empty(t, c.NotLoaded)
	velmora, ok := c.Set("velmora")
	require.True(t, ok)
	assert.Equal(t, "2024", velmora.Ref.Version)
	assert.Len(t, velmora.Ref.Digest, 64)
	_, ok = c.Set("elsewhere")
	assert.False(t, ok)
}

func TestLoadingTwiceGivesTheSameDigests(t *testing.T) {
	dir := folder(t, "federal")
	assert.Equal(t, load(t, dir).Sets[0].Ref, load(t, dir).Sets[0].Ref)
}

func TestAFaultyPluginIsNamedAndKeepsNoOtherFromLoading(t *testing.T) {
	faults := map[string][]string{
		"crashes":           {"did not start"},
		"crashes-compiling": {"ended before it gave its table"},
		"panics-compiling":  {"Internal", "row 3 of nothing"},
		"writes-garbage":    {"did not start", "loading rules, please wait", "leaves standard output alone"},
		"invalid-table":     {"does not describe itself", "nothing: purpose", "--describe"},
		"no-citation":       {"nothing: citation is empty", "publisher"},
		"unknown-effect":    {"nothing: ", "field 99", "does not know"},
		"other-digest":      {"digest", "cannot be relied on"},
		"changes-its-mind":  {"two different tables", "must not depend on time"},
		"next-contract":     {"speaks version 2", "this server version 1", "install"},
	}
	names := []string{"federal"}
	for name := range faults {
		names = append(names, name)
	}
	c := load(t, folder(t, names...))
	assert.Equal(t, []string{"federal"}, ids(c))
	problems := notLoaded(c)
	assert.Len(t, problems, len(faults))
	for name, want := range faults {
		t.Run(name, func(t *testing.T) {
			for _, part := range want {
				assert.Contains(t, problems[name], part)
			}
			assert.NotContains(t, problems[name], "goroutine", "a stack trace is not for the operator")
		})
	}
}

func TestWhatIsNoPluginIsNamed(t *testing.T) {
	dir := folder(t, "federal")
	write := func(name, text string, mode os.FileMode) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), mode))
	}
	write("README", "not a plugin", 0o600)
	write("script", "#!/bin/sh\necho hello\n", 0o700)
	write("noise", "neither script nor program", 0o700)
	write(".hidden", "of no interest", 0o600)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "old"), 0o700))
	require.NoError(t, os.Symlink(filepath.Join(dir, "gone"), filepath.Join(dir, "dangling")))
	c := load(t, dir)
	assert.Equal(t, []string{"federal"}, ids(c))
	problems := notLoaded(c)
	assert.Len(t, problems, 5)
	assert.Contains(t, problems["README"], "chmod +x")
	assert.Contains(t, problems["script"], "let it read its interpreter")
	assert.Contains(t, problems["noise"], "build it for this machine")
	assert.Contains(t, problems["old"], "is not a file")
	assert.Contains(t, problems["dangling"], "repair or remove it")
}

func TestAMissingFolderIsAnErrorAndChangesNothing(t *testing.T) {
	host := rulehost.New(atOwnDesk(rulehost.Config{}))
	require.NoError(t, host.Load(t.Context(), folder(t, "federal")))
	err := host.Load(t.Context(), filepath.Join(t.TempDir(), "missing"))
	require.ErrorIs(t, err, os.ErrNotExist)
	assert.Contains(t, err.Error(), "--rules")
	assert.Equal(t, []string{"federal"}, ids(host.Catalog()))
}

func TestAnEmptyFolderSaysThatNothingMayBeTreated(t *testing.T) {
	dir := t.TempDir()
	c := load(t, dir)
	assert.Empty(t, c.Sets)
	assert.Contains(t, notLoaded(c)[dir], "nothing may be treated")
}

func TestTwoSetsOfOneIdAreBothRefused(t *testing.T) {
	c := load(t, folder(t, "federal", "velmora", "velmora-2027"))
	assert.Equal(t, []string{"federal"}, ids(c))
	problems := notLoaded(c)
	assert.Len(t, problems, 2)
	for _, name := range []string{"velmora", "velmora-2027"} {
		assert.Contains(t, problems[name], `rule set "velmora"`)
		assert.Contains(t, problems[name], "velmora, velmora-2027")
	}
}

func TestAPluginThatHangsIsGivenUp(t *testing.T) {
	cases := map[string]struct {
		config rulehost.Config
		want   string
	}{
		// A plugin that hangs at the start has to describe itself in the same time.
		"hangs":            {atOwnDesk(rulehost.Config{StartTimeout: 3 * time.Second}), "timeout while waiting for plugin to start"},
		"hangs-describing": {atOwnDesk(rulehost.Config{StartTimeout: time.Second}), "did not describe itself within 1s"},
		"hangs-compiling":  {atOwnDesk(rulehost.Config{CompileTimeout: time.Second}), "did not give its table within 1s"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			host := rulehost.New(c.config)
			require.NoError(t, host.Load(t.Context(), folder(t, name)))
			assert.Contains(t, notLoaded(host.Catalog())[name], c.want)
		})
	}
}

// Each of these hangs until it is given up.
func TestPluginsStartSideBySide(t *testing.T) {
	const patience = 5 * time.Second
	host := rulehost.New(atOwnDesk(rulehost.Config{StartTimeout: patience, CompileTimeout: patience}))
	began := time.Now()
	require.NoError(t, host.Load(t.Context(), folder(t, "hangs", "hangs-describing", "hangs-compiling")))
	assert.Len(t, host.Catalog().NotLoaded, 3)
	assert.Less(t, time.Since(began), 3*patience, "one after another they take longer")
}

func TestATableMayNotBeTooLarge(t *testing.T) {
	host := rulehost.New(atOwnDesk(rulehost.Config{MaxTable: 1_000}))
	require.NoError(t, host.Load(t.Context(), folder(t, "velmora", "sound")))
	assert.Equal(t, []string{"sound"}, ids(host.Catalog()))
	assert.Contains(t, notLoaded(host.Catalog())["velmora"], "larger than the 1000 bytes")
}

func TestAnEndedContextStopsLoadingAndChangesNothing(t *testing.T) {
	host := rulehost.New(atOwnDesk(rulehost.Config{}))
	require.NoError(t, host.Load(t.Context(), folder(t, "federal")))
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	require.ErrorIs(t, host.Load(ctx, folder(t, "hangs", "hangs-describing", "hangs-compiling")), context.DeadlineExceeded)
	assert.Equal(t, []string{"federal"}, ids(host.Catalog()))
}

// Another file is put in the place of one after it was hashed and before it runs.
func TestWhatWasHashedIsWhatRuns(t *testing.T) {
	dir := folder(t, "federal")
	path := filepath.Join(dir, "federal")
	host := rulehost.New(atOwnDesk(rulehost.Config{Log: whenFound(func() {
		require.NoError(t, os.Remove(path))
		require.NoError(t, os.WriteFile(path, []byte("not the plugin that was hashed"), 0o700))
	})}))
	require.NoError(t, host.Load(t.Context(), dir))
	assert.Equal(t, []string{"federal"}, ids(host.Catalog()), "%v", host.Catalog().NotLoaded)
}

// A file is written to after it was hashed and before it runs, by somebody who has opened
// it before: others are held back by the kernel.
func TestAFileThatChangesWhileItLoadsIsRefused(t *testing.T) {
	dir := folder(t, "federal")
	path := filepath.Join(dir, "federal")
	rewrite(t, path, "")
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	host := rulehost.New(atOwnDesk(rulehost.Config{Log: whenFound(func() {
		_, err := f.WriteString("one byte more")
		require.NoError(t, errors.Join(err, f.Close()))
	})}))
	require.NoError(t, host.Load(t.Context(), dir))
	assert.Contains(t, notLoaded(host.Catalog())["federal"], "changed while it was loaded")
}

// whenFound is a log that does something once a plugin was hashed.
func whenFound(do func()) zerolog.Logger { return zerolog.New(foundLog(do)).Level(zerolog.DebugLevel) }

type foundLog func()

func (f foundLog) Write(line []byte) (int, error) {
	if bytes.Contains(line, []byte("rule plugin found")) {
		f()
	}
	return len(line), nil
}

// A script needs its interpreter, which is only what its agency's builds may read.
func TestAScriptReadsWhatTrustSaysAlone(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "script"), []byte("#!/bin/sh\necho it ran >&2\nexit 1\n"), 0o700))
	sum, err := rulerelease.Sum(filepath.Join(dir, "script"))
	require.NoError(t, err)
	text, err := rulerelease.Sign(rulerelease.Release{
		RuleSet: "script", Version: "1", Layer: rules.State, Scope: "us/velmora", Contract: 1, Binary: sum, Table: sum,
	}, key().private)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "script.release"), text, 0o600))
	trust(t, dir, everywhere, key())
	assert.NotContains(t, problems(t, start(t, dir))["script"], "it ran")
	trust(t, dir, everywhere+"    may_read: [/usr, /bin, /lib, /lib64]\n", key())
	assert.Contains(t, problems(t, start(t, dir))["script"], "it ran")
}

// Start does not wait for the plugins to end, and Close does.
func TestAStartedHostDecidesAndEndsItsPlugins(t *testing.T) {
	t.Setenv("TMPDIR", shortFolder(t))
	dir := folder(t, "federal", "ossel-creek", "velmora")
	host := rulehost.New(atOwnDesk(rulehost.Config{}))
	require.NoError(t, host.Start(t.Context(), dir))
	assert.Len(t, host.Catalog().Sets, 3)
	host.Close()
	left, err := filepath.Glob(filepath.Join(os.TempDir(), "rootward-[0-9]*"))
	require.NoError(t, err)
	assert.Empty(t, left, "the last plugin that ends leaves nothing")
}
