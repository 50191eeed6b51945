package rulehost_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulerelease"
	"example.org/rootward/server/rulehost"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// editions is a server whose folder holds two editions of the state's rules, of
// which the older is pinned.
type editions struct {
	host     *rulehost.Host
	dir      string
	old, new string // digests
	log      *journal
}

func twoEditions(t *testing.T, more ...string) *editions {
	t.Helper()
	e := &editions{dir: released(t, append(more, "velmora", "velmora-2027")...), log: &journal{}}
	pin(t, e.dir, append(more, "velmora")...)
	e.host = operated(t, rulehost.Config{Log: e.log.logger()})
	require.NoError(t, e.host.Load(t.Context(), e.dir))
	e.old = releaseOf(t, filepath.Join(e.dir, "velmora")).Table
	e.new = releaseOf(t, filepath.Join(e.dir, "velmora-2027")).Table
	return e
}

func (e *editions) lock(t *testing.T) *rulerelease.Lock {
	t.Helper()
	l, err := rulerelease.ReadLock(e.dir)
	require.NoError(t, err)
	return l
}

func TestActivatingAndRollingBack(t *testing.T) {
	e := twoEditions(t, "federal")
	held := e.host.Catalog()
	october := demoDay.AddDays(71) // 20 October: closed in the old edition, open in the draft
	require.Equal(t, rules.Prohibited, decide(held, "us/velmora", october, quantity.Mile))

	e.host.Compared(e.old, e.new)
	did, err := e.host.Activate(t.Context(), e.new, e.old, "A. Operator")
	require.NoError(t, err)
	assert.Equal(t, e.new, did.Active.Digest)
	assert.Equal(t, e.old, did.Previous.Digest)
	assert.Equal(t, rules.Conditional, decide(e.host.Catalog(), "us/velmora", october, quantity.Mile))
	assert.Equal(t, rules.Prohibited, decide(held, "us/velmora", october, quantity.Mile), "who began with a catalog keeps it")
	assert.Equal(t, e.new, e.lock(t).Active("velmora").Release.Table)
	assert.Equal(t, "A. Operator", e.lock(t).Active("velmora").DecidedBy)
	assert.Equal(t, noon, e.lock(t).Active("velmora").Since)
	assert.Contains(t, e.log.String(), `"decided_by":"A. Operator","from":"`+e.old+`","from_version":"2024","to":"`+e.new+`","to_version":"2027-draft","message":"rule set activated"`)

	list, err := e.host.Releases(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{"velmora-2027", "velmora"}, []string{list[1].File, list[2].File}, "the active one first")
	assert.True(t, list[2].Previous)
	assert.False(t, list[1].Previous)

	did, err = e.host.RollBack(t.Context(), "velmora", e.new, "B. Operator")
	require.NoError(t, err)
	assert.Equal(t, e.old, did.Active.Digest)
	assert.Equal(t, e.new, did.Previous.Digest)
	assert.Equal(t, rules.Prohibited, decide(e.host.Catalog(), "us/velmora", october, quantity.Mile))
	assert.Equal(t, e.old, e.lock(t).Active("velmora").Release.Table)
	assert.Contains(t, e.log.String(), "rule set rolled back")

	// Another server that starts now has the same law.
	assert.Equal(t, e.old, digestOf(t, start(t, e.dir), "velmora"))
}

func digestOf(t *testing.T, host *rulehost.Host, id string) string {
	t.Helper()
	s, ok := host.Catalog().Set(id)
	require.True(t, ok, "%v", host.Catalog().NotLoaded)
	return s.Ref.Digest
}

func TestRetiring(t *testing.T) {
	e := twoEditions(t, "federal")
	did, err := e.host.Retire(t.Context(), "velmora", e.old, "A. Operator")
	require.NoError(t, err)
	assert.Equal(t, rules.Ref{}, did.Active)
	assert.Equal(t, e.old, did.Previous.Digest)
	assert.Equal(t, rules.Undetermined, decide(e.host.Catalog(), "us/velmora", demoDay, quantity.Mile))
	assert.Contains(t, e.log.String(), "rule set retired")
	assert.Nil(t, e.lock(t).Active("velmora"))
	assert.Equal(t, []string{"federal"}, ids(start(t, e.dir).Catalog()))

	e.host.Compared("", e.old)
	_, err = e.host.Activate(t.Context(), e.old, "", "A. Operator")
	require.NoError(t, err)
	assert.Equal(t, e.old, digestOf(t, e.host, "velmora"))
}

func TestChangesThatAreRefused(t *testing.T) {
	ctx := t.Context
	compare := func(e *editions) { e.host.Compared(e.old, e.new) }
	type refused struct {
		word, says string
		change     func(t *testing.T, e *editions) error
	}
	check := func(t *testing.T, e *editions, c refused) {
		err := c.change(t, e)
		assertRefused(t, err, c.word)
		assert.Contains(t, err.Error(), c.says)
		assert.Contains(t, e.log.String(), "change of rule sets not made")
	}
	shared := twoEditions(t) // for cases that leave it as it was
	for name, c := range map[string]refused{
		"not compared": {"NOT_COMPARED", "were not compared since this server started; look at what changes with rootward rules compare", func(_ *testing.T, e *editions) error {
			return activate(ctx(), e, e.new, e.old)
		}},
		"compared the other way round": {"NOT_COMPARED", "", func(_ *testing.T, e *editions) error {
			e.host.Compared(e.new, e.old)
			return activate(ctx(), e, e.new, e.old)
		}},
		"compared with another": {"CHANGED_MEANWHILE", "not none with which it was compared", func(_ *testing.T, e *editions) error {
			e.host.Compared("", e.new)
			return activate(ctx(), e, e.new, "")
		}},
		"active already": {"NOT_ELIGIBLE", "is active already; there is nothing to do", func(_ *testing.T, e *editions) error {
			e.host.Compared(e.old, e.old)
			return activate(ctx(), e, e.old, e.old)
		}},
		"an unknown digest": {"UNKNOWN_DIGEST", `"nonsense"`, func(_ *testing.T, e *editions) error {
			return activate(ctx(), e, "nonsense", e.old)
		}},
		"roll back, nothing before": {"NOTHING_BEFORE", "before release 2024 of rule set \"velmora\" none was active", func(_ *testing.T, e *editions) error {
			return rollBack(ctx(), e, "velmora", e.old)
		}},
		"roll back, of another": {"CHANGED_MEANWHILE", "the active table is", func(_ *testing.T, e *editions) error {
			return rollBack(ctx(), e, "velmora", e.new)
		}},
		"roll back, none named": {"CHANGED_MEANWHILE", "not none", func(_ *testing.T, e *editions) error {
			return rollBack(ctx(), e, "velmora", "")
		}},
		"roll back, not active": {"NOT_ACTIVE", `no release of rule set "elsewhere" is active`, func(_ *testing.T, e *editions) error {
			return rollBack(ctx(), e, "elsewhere", e.old)
		}},
		"retire, not active": {"NOT_ACTIVE", "", func(_ *testing.T, e *editions) error {
			_, err := e.host.Retire(ctx(), "elsewhere", e.old, "A. Operator")
			return err
		}},
		"retire, another": {"CHANGED_MEANWHILE", "", func(_ *testing.T, e *editions) error {
			_, err := e.host.Retire(ctx(), "velmora", e.new, "A. Operator")
			return err
		}},
	} {
		t.Run(name, func(t *testing.T) { check(t, shared, c) })
	}
	for name, c := range map[string]refused{
		"activated by two": {"CHANGED_MEANWHILE", "compare it with that one, then activate", func(t *testing.T, e *editions) error {
			compare(e)
			require.NoError(t, activate(ctx(), e, e.new, e.old))
			return activate(ctx(), e, e.new, e.old)
		}},
		"its file is gone": {"NOT_ELIGIBLE", "is gone or was changed since it was admitted", func(t *testing.T, e *editions) error {
			compare(e)
			require.NoError(t, os.Remove(filepath.Join(e.dir, "velmora-2027")))
			return activate(ctx(), e, e.new, e.old)
		}},
		"its file was changed": {"NOT_ELIGIBLE", "file velmora-2027, which holds table", func(t *testing.T, e *editions) error {
			compare(e)
			rewrite(t, filepath.Join(e.dir, "velmora-2027"), "x")
			return activate(ctx(), e, e.new, e.old)
		}},
		"its file is seen to be gone": {"NOT_ELIGIBLE", "is in the folder no longer", func(t *testing.T, e *editions) error {
			compare(e)
			require.NoError(t, os.Remove(filepath.Join(e.dir, "velmora-2027")))
			_, err := e.host.Releases(ctx())
			require.NoError(t, err)
			return activate(ctx(), e, e.new, e.old)
		}},
		"it is trusted no longer": {"NOT_ELIGIBLE", "is refused: was not run: it is not signed", func(t *testing.T, e *editions) error {
			compare(e)
			require.NoError(t, os.Remove(filepath.Join(e.dir, "velmora-2027.release")))
			_, err := e.host.Releases(ctx())
			require.NoError(t, err)
			return activate(ctx(), e, e.new, e.old)
		}},
		"the lock was changed beside": {"CHANGED_MEANWHILE", "was changed beside this server", func(t *testing.T, e *editions) error {
			compare(e)
			require.NoError(t, os.WriteFile(filepath.Join(e.dir, "rules.lock"), []byte("format: 1\n"), 0o600))
			return activate(ctx(), e, e.new, e.old)
		}},
		"roll back, file gone": {"NOT_ELIGIBLE", "put it back", func(t *testing.T, e *editions) error {
			compare(e)
			require.NoError(t, activate(ctx(), e, e.new, e.old))
			require.NoError(t, os.Remove(filepath.Join(e.dir, "velmora")))
			return rollBack(ctx(), e, "velmora", e.new)
		}},
	} {
		t.Run(name, func(t *testing.T) { check(t, twoEditions(t), c) })
	}
}

func activate(ctx context.Context, e *editions, digest, with string) error {
	_, err := e.host.Activate(ctx, digest, with, "A. Operator")
	return err
}

func rollBack(ctx context.Context, e *editions, id, active string) error {
	_, err := e.host.RollBack(ctx, id, active, "A. Operator")
	return err
}

func TestChangesAreOffUnlessTheOperatorAllowsThem(t *testing.T) {
	host := rulehost.New(rulehost.Config{})
	for _, change := range []func() (rulehost.Change, error){
		func() (rulehost.Change, error) { return host.Activate(t.Context(), "a", "b", "A. Operator") },
		func() (rulehost.Change, error) { return host.RollBack(t.Context(), "a", "b", "A. Operator") },
		func() (rulehost.Change, error) { return host.Retire(t.Context(), "a", "b", "A. Operator") },
	} {
		_, err := change()
		assertRefused(t, err, "CHANGES_OFF")
		assert.ErrorContains(t, err, "--allow-rule-changes")
	}
}

// Two rule sets of one layer cannot state the law of one place, even where the one
// that is pinned is missing.
func TestAnOverlapIsRefused(t *testing.T) {
	dir := released(t, "velmora")
	other := releaseOf(t, filepath.Join(dir, "velmora"))
	digest := other.Table
	other.RuleSet, other.Version, other.Table = "north", "1", strings.Repeat("0", 64)
	lock := (&rulerelease.Lock{}).Activate(rulerelease.Entry{Release: other, File: "north", Since: noon, DecidedBy: "A. Operator"})
	require.NoError(t, lock.Write(dir))
	host := start(t, dir)
	host.Compared("", digest)
	_, err := host.Activate(t.Context(), digest, "", "A. Operator")
	assertRefused(t, err, "OVERLAP")
	assert.ErrorContains(t, err, `rule set "velmora" is of the layer state for us/velmora, as is rule set "north"`)
	assert.ErrorContains(t, err, "retire that one first")
	_, err = host.Retire(t.Context(), "north", other.Table, "A. Operator")
	require.NoError(t, err)
	_, err = host.Activate(t.Context(), digest, "", "A. Operator")
	require.NoError(t, err)
	assert.Empty(t, host.Catalog().NotLoaded)
}

// An author who named unsigned builds can choose among them; the choice is pinned.
func TestUnsignedBuildsCanBeActivatedAtOnesOwnDesk(t *testing.T) {
	dir := folder(t, "federal", "velmora", "velmora-2027")
	host := operated(t, rulehost.Config{Unsigned: []string{"all"}})
	require.NoError(t, host.Load(t.Context(), dir))
	require.Len(t, host.Catalog().NotLoaded, 2, "which of the two editions is the law nobody said")
	digest := releaseOf(t, filepath.Join(dir, "velmora-2027")).Table
	host.Compared("", digest)
	_, err := host.Activate(t.Context(), digest, "", "An author")
	require.NoError(t, err)
	assert.Empty(t, host.Catalog().NotLoaded)
	assert.Equal(t, digest, digestOf(t, host, "velmora"))
	assert.Empty(t, start(t, dir).Catalog().Sets, "without --unsigned nothing of it runs")
}

// What was active without a pin is pinned when something takes its place, so that
// one can go back to it.
func TestRollingBackToWhatWasUnsigned(t *testing.T) {
	dir := folder(t, "velmora")
	host := operated(t, rulehost.Config{Unsigned: []string{"all"}})
	require.NoError(t, host.Load(t.Context(), dir))
	old := digestOf(t, host, "velmora")
	install(t, dir, "velmora-2027")
	_, err := host.Releases(t.Context())
	require.NoError(t, err)
	draft := releaseOf(t, filepath.Join(dir, "velmora-2027")).Table
	host.Compared(old, draft)
	_, err = host.Activate(t.Context(), draft, old, "An author")
	require.NoError(t, err)
	_, err = host.RollBack(t.Context(), "velmora", draft, "An author")
	require.NoError(t, err)
	assert.Equal(t, old, digestOf(t, host, "velmora"))
}

func TestWhereTheLockCannotBeWrittenNothingChanges(t *testing.T) {
	dir := folder(t, "velmora")
	host := operated(t, rulehost.Config{Unsigned: []string{"all"}})
	require.NoError(t, host.Load(t.Context(), dir))
	old := digestOf(t, host, "velmora")
	require.NoError(t, os.RemoveAll(dir))
	_, err := host.Retire(t.Context(), "velmora", old, "A. Operator")
	require.ErrorContains(t, err, "rules.lock cannot be written, so that nothing was changed")
	require.ErrorContains(t, err, "let the server's user write in the folder")
	assert.Equal(t, old, digestOf(t, host, "velmora"))
}

func TestAPinThatFailsCanBeRolledBack(t *testing.T) {
	e := twoEditions(t)
	e.host.Compared(e.old, e.new)
	require.NoError(t, activate(t.Context(), e, e.new, e.old))
	require.NoError(t, os.Remove(filepath.Join(e.dir, "velmora-2027")))
	later := start(t, e.dir)
	assert.Contains(t, notLoaded(later.Catalog())["velmora-2027"], "put its file back, or roll back")
	did, err := later.RollBack(t.Context(), "velmora", e.new, "A. Operator")
	require.NoError(t, err)
	assert.Equal(t, e.old, did.Active.Digest)
	assert.Empty(t, later.Catalog().NotLoaded)
}

func TestWhoDecidedIsKeptOnOneLine(t *testing.T) {
	for by, want := range map[string]string{
		"A.\nOperator\t \x1b[31m":      "A. Operator [31m",
		"":                             "somebody who gave no name",
		strings.Repeat("long ", 1_000): strings.TrimSpace(strings.Repeat("long ", 40)),
	} {
		dir := folder(t, "sound")
		host := operated(t, rulehost.Config{Unsigned: []string{"all"}, Now: func() time.Time { return noon }})
		require.NoError(t, host.Load(t.Context(), dir))
		_, err := host.Retire(t.Context(), "sound", digestOf(t, host, "sound"), by)
		require.NoError(t, err)
		l, err := rulerelease.ReadLock(dir)
		require.NoError(t, err)
		assert.Equal(t, want, l.Set("sound").Past[0].EndedBy)
	}
}
