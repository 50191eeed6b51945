package rulerelease_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

// ofSeveral is a lock with a set that was replaced and rolled back, and one that was
// retired.
func ofSeveral(t testing.TB) *rulerelease.Lock {
	t.Helper()
	l := (&rulerelease.Lock{}).Activate(entry("2024"))
	later := entry("2027")
	later.Since, later.DecidedBy = noon.Add(time.Hour), `O'Neil "the boss" # 2`
	l = l.Activate(later)
	back := entry("2024")
	back.Since, back.Signers = noon.Add(2*time.Hour), nil
	l, err := l.RollBack(back)
	require.NoError(t, err)
	district := entry("1")
	district.Release.RuleSet, district.Release.Layer, district.Release.Scope = "ossel-creek", rules.District, "us/velmora/ossel-creek"
	l, err = l.Activate(district).Retire("ossel-creek", noon.Add(3*time.Hour), "A. Operator")
	require.NoError(t, err)
	return l
}

func TestTheLockIsWrittenForPeople(t *testing.T) {
	const golden = "testdata/rules.lock"
	text := ofSeveral(t).Text()
	if *update {
		require.NoError(t, os.WriteFile(golden, text, 0o600))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(text))
	back, err := rulerelease.ParseLock(text, "rules.lock")
	require.NoError(t, err)
	assert.Equal(t, string(text), string(back.Text()))
}

func TestALockIsReadAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := &rulerelease.Lock{}
		now := noon
		for range rapid.IntRange(0, 40).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(0, 5_000).Draw(t, "ms")) * time.Millisecond)
			e := entry(rapid.StringMatching(`[1-4]( [a-z:#"]+)?`).Draw(t, "version"))
			e.Since, e.DecidedBy = now, rapid.StringMatching(`[A-Za-zäß"'#:{&*]+`).Draw(t, "by")
			id := rapid.SampledFrom([]string{"velmora", "null", "ossel-creek"}).Draw(t, "id")
			e.Release.RuleSet, e.Release.Scope = id, "us/"+id
			switch rapid.IntRange(0, 2).Draw(t, "what") {
			case 0:
				l = l.Activate(e)
			case 1:
				if before, err := l.Before(id); err == nil {
					e.Release = before.Release
					l, err = l.RollBack(e)
					require.NoError(t, err)
				}
			case 2:
				if next, err := l.Retire(id, now, e.DecidedBy); err == nil {
					l = next
				}
			}
		}
		back, err := rulerelease.ParseLock(l.Text(), "rules.lock")
		require.NoError(t, err)
		require.Equal(t, string(l.Text()), string(back.Text()))
	})
}

func TestEveryFaultOfALockIsReportedAtOnce(t *testing.T) {
	text := string(ofSeveral(t).Text())
	for _, swap := range [][2]string{
		{`id: "ossel-creek"`, `id: "velmora"`},
		{`    active:`, "    colour: green\n    active:"},
		{`file: "velmora-2024"`, `file: "../velmora-2024"`},
		{`ended: "rolled_back"`, `ended: "lost"`},
		{`since: "2026-08-01T14:00:00Z"`, `since: "yesterday"`},
		{`scope: "us/velmora"`, `scope: "US"`},
		{`binary: "sha256:`, `binary: "`},
	} {
		require.Contains(t, text, swap[0])
		text = strings.Replace(text, swap[0], swap[1], 1)
	}
	_, err := rulerelease.ParseLock([]byte(text), "rules.lock")
	for _, want := range []string{
		`"velmora" is listed twice`, `"colour" is not known here`, `"../velmora-2024" is not the name of a file`, `"lost" is not one of`,
		`"yesterday" is not a time in UTC`, `"US" is not a place`, "64 lower-case", "rules.lock:",
	} {
		assert.ErrorContains(t, err, want)
	}
}

func TestWhatIsNoLock(t *testing.T) {
	many := ofSeveral(t)
	for i := range 30 {
		many = many.Activate(entry(fmt.Sprint(3_000 + i)))
	}
	text := string(many.Text())
	past := text[strings.Index(text, "      - file"):]
	for name, c := range map[string]struct{ text, want string }{
		"empty":          {"", "it needs one"},
		"no format":      {"rule_sets: []", `"format" is missing`},
		"a later format": {"format: 2\nthings: []\n", "format: is 2 and this program reads 1"},
		"an empty set":   {"format: 1\nrule_sets:\n  - id: velmora\n", "is neither active nor was"},
		"a long past":    {text + past, "it keeps 20"},
		"an overlap":     {strings.Replace(text, "- id: \"velmora\"", "- id: \"north\"\n    active:"+firstActive(text)+"  - id: \"velmora\"", 1), "only one of them may be active"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := rulerelease.ParseLock([]byte(c.text), "rules.lock")
			assert.ErrorContains(t, err, c.want)
		})
	}
}

// firstActive is the first active entry in a lock's text.
func firstActive(text string) string {
	_, after, _ := strings.Cut(text, "    active:")
	active, _, _ := strings.Cut(after, "    past:")
	return active
}

func TestRollingBackGoesFurtherBackEachTime(t *testing.T) {
	l := &rulerelease.Lock{}
	for _, v := range []string{"1", "2", "3"} {
		l = l.Activate(entry(v))
	}
	for _, want := range []string{"2", "1"} {
		before, err := l.Before("velmora")
		require.NoError(t, err)
		assert.Equal(t, want, before.Release.Version)
		l, err = l.RollBack(*before)
		require.NoError(t, err)
		assert.Equal(t, want, l.Active("velmora").Release.Version)
	}
	_, err := l.Before("velmora")
	require.ErrorContains(t, err, "before release 1 of rule set \"velmora\" none was active")
	_, err = l.RollBack(entry("1"))
	require.Error(t, err)
	assert.Len(t, l.Set("velmora").Past, 2, "what was rolled back is remembered")

	l = l.Activate(entry("4"))
	_, err = l.RollBack(entry("3"))
	assert.ErrorContains(t, err, "not "+release("3").Table[:12])
	before, err := l.Before("velmora")
	require.NoError(t, err)
	assert.Equal(t, "1", before.Release.Version, "not what was rolled back")
}

func TestNothingLiesBeforeARetirement(t *testing.T) {
	l := (&rulerelease.Lock{}).Activate(entry("1")).Activate(entry("2"))
	l, err := l.Retire("velmora", noon, "A. Operator")
	require.NoError(t, err)
	assert.Nil(t, l.Active("velmora"))
	_, err = l.Before("velmora")
	require.ErrorContains(t, err, "not active")
	_, err = l.Retire("velmora", noon, "A. Operator")
	require.ErrorContains(t, err, "nothing to retire")
	_, err = l.Activate(entry("3")).Before("velmora")
	assert.ErrorContains(t, err, "none was active")
}

func TestThePastIsBounded(t *testing.T) {
	l := (&rulerelease.Lock{}).Activate(entry("1"))
	for range 1_000 {
		l = l.Activate(entry("2"))
		before, err := l.Before("velmora")
		require.NoError(t, err)
		l, err = l.RollBack(*before)
		require.NoError(t, err)
	}
	assert.Len(t, l.Set("velmora").Past, 1, "the same release rolled back again and again is one entry")
	for i := range 100 {
		l = l.Activate(entry(fmt.Sprint(i + 10)))
	}
	assert.Len(t, l.Set("velmora").Past, rulerelease.MaxPast)
}

func TestALockDoesNotChangeUnderItsHolder(t *testing.T) {
	l := ofSeveral(t)
	before := string(l.Text())
	l.Activate(entry("9"))
	_, err := l.RollBack(entry("2024"))
	require.Error(t, err, "what was before was rolled back to")
	_, err = l.Retire("velmora", noon, "B")
	require.NoError(t, err)
	assert.Equal(t, before, string(l.Text()))
}

func TestTheSameVersionNeverHasOtherContent(t *testing.T) {
	l := ofSeveral(t)
	for _, version := range []string{"2024", "2027"} {
		r := release(version)
		require.NoError(t, l.Contradicts(&r))
		assert.True(t, l.Knows(&r))
		r.Table = sha("something else")
		assert.ErrorContains(t, l.Contradicts(&r), "the same version never has other content", version)
		assert.False(t, l.Knows(&r))
	}
	fresh := release("2028")
	assert.NoError(t, l.Contradicts(&fresh))
}

// Who may publish for a district cannot take the state's law out of force by its id.
func TestAnIdStandsForOneLayersLawOfOnePlace(t *testing.T) {
	l := ofSeveral(t)
	for want, change := range map[string]func(*rulerelease.Release){
		"the district law of us/velmora;":    func(r *rulerelease.Release) { r.Layer = rules.District },
		"the state law of us/velmora/ossel;": func(r *rulerelease.Release) { r.Scope = "us/velmora/ossel" },
	} {
		r := release("2028")
		change(&r)
		assert.ErrorContains(t, l.Contradicts(&r), want)
		retired, err := l.Retire("velmora", noon, "B")
		require.NoError(t, err)
		assert.NoError(t, retired.Contradicts(&r))
	}
}

func TestALockIsReplacedWhole(t *testing.T) {
	dir := t.TempDir()
	empty, err := rulerelease.ReadLock(dir)
	require.NoError(t, err)
	require.NoError(t, empty.Write(dir))
	require.NoError(t, ofSeveral(t).Write(dir))
	back, err := rulerelease.ReadLock(dir)
	require.NoError(t, err)
	assert.Equal(t, string(ofSeveral(t).Text()), string(back.Text()))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "nothing else is left behind")
}

func TestALockThatCannotBeWrittenLeavesTheOldOne(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, ofSeveral(t).Write(dir))
	unreadable := entry("5")
	unreadable.DecidedBy = "two\nlines"
	require.ErrorContains(t, ofSeveral(t).Activate(unreadable).Write(dir), "decided_by")
	require.ErrorContains(t, ofSeveral(t).Write(filepath.Join(dir, "missing")), "let the server's user write in the folder")
	text, err := os.ReadFile(filepath.Join(dir, rulerelease.LockFile))
	require.NoError(t, err)
	assert.Equal(t, string(ofSeveral(t).Text()), string(text))
}
