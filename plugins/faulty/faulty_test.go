package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/ruletest"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inTables says by which words the kit tells each fault of a table.
var inTables = map[string]string{
	"id-missing":              `row 1: id "" is not a lower-case slug`,
	"id-not-a-slug":           `row 4: id "Large Stems" is not a lower-case slug`,
	"id-twice":                "stream: id is used twice",
	"purpose-missing":         `stream: purpose "" is not one sentence`,
	"purpose-half":            `stream: purpose "streams" is not one sentence`,
	"citation-missing":        "stream: citation is empty",
	"validity-missing":        "stream: valid-from is missing",
	"validity-reversed":       "stream: valid-to 2023-12-31 lies before valid-from 2024-01-01",
	"effect-missing":          "stream: effect: is missing or of a kind this program does not know",
	"effect-hidden":           "large-stems: effect: is missing or of a kind this program does not know",
	"distance-zero":           "stream: buffer: distance 0 µm is not above 0",
	"distance-too-far":        "at most 50 miles",
	"distance-from-what":      "stream: buffer: it is not said where the distance starts",
	"water-unknown-word":      "stream: effect.buffer.water: 31 is not a word this program knows",
	"day-of-no-calendar":      "summer: effect.window.open.from: day 31 of month 2 is not in the calendar",
	"range-impossible":        "large-stems: no value lies in both",
	"selector-unknown-word":   "stream: when.methods: 31 is not a word this program knows",
	"name-with-spaces":        `stream: the name " glyphosate" is empty or has stray spaces`,
	"limit-upside-down":       "stream: weather: the lower limit 10 lies above the upper, 3",
	"scope-no-place":          `manifest: scope "Velmora, the whole of it" is not a place`,
	"publisher-missing":       "manifest: publisher is empty",
	"version-missing":         "manifest: version is empty",
	"layer-missing":           "manifest: layer is not stated",
	"set-validity-ended":      "manifest: valid-to 2023-12-31 lies before valid-from 2024-01-01",
	"no-rows":                 "manifest: the table has 0 rows",
	"too-many-rows":           "manifest: the table has 4097 rows",
	"case-lies":               "case stream, lake, at the limit: gives ALLOWED, its author expects PROHIBITED",
	"case-lies-by-whom":       "case stream, lake, just inside: row summer does not decide it",
	"case-names-no-row":       `case stream, lake, just inside: names row "streams", which is not in the table`,
	"case-out-of-force":       "its date is 2023-12-31, and the set is law from 2024-01-01",
	"row-not-covered":         "row large-stems (prohibit): no worked case is one that it applies to",
	"row-never-missed":        "row summer (window): it applies to every worked case",
	"buffer-one-side":         "no worked case has 30480000 µm to perennial stream or lake, counted from the bank top, next to the limit of its distance",
	"setback-one-side":        "no worked case has 15239999 µm to school, next to the limit of its distance",
	"window-one-side":         "no worked case has the day 1 October, at an edge of its window, 15 July to 30 September",
	"window-other-side":       "no worked case has the day 15 July, at an edge of its window, 15 July to 30 September",
	"standing-one-side":       "no worked case has an applicator who is supervised, the standing it asks for",
	"range-not-at-its-limit":  "no worked case has diameter_um 152401, at an end of the range diameter_um > 152400",
	"validity-one-side":       "no worked case has the date 2026-09-30, next to the first day on which it is law",
	"buffer-a-foot-too-short": "case stream, lake, just inside: gives ALLOWED, its author expects PROHIBITED",
	"window-a-day-too-long":   "case summer, the day after it closes: gives ALLOWED, its author expects PROHIBITED",
	"chance":                  "the table differs from one call to the next",
	"order-of-a-map":          "the table differs from one call to the next",
	"the-time":                "the table differs from one call to the next",
	"panics":                  "compiling the rule table panicked: row 3 of nothing",
}

// inProcesses says by which words the kit tells each fault of a built plugin.
var inProcesses = map[string]string{
	"crashes":               "it does not shake hands with a host",
	"hangs":                 "with the arguments [] and the environment [] it does not end",
	"hangs-describing":      `with the arguments ["--describe"] and the environment [] it does not end`,
	"writes-garbage":        "it does not shake hands with a host",
	"leaves-a-child":        "it does not end within",
	"crashes-compiling":     "it does not give its table",
	"panics-compiling":      "row 3 of nothing",
	"hangs-compiling":       "it does not give its table within",
	"stops-compiling":       "it does not give its table within",
	"chatters-compiling":    `it writes to standard output, which belongs to the handshake: "on standard output`,
	"invalid-table":         "it does not describe itself with --describe: exit status 1",
	"no-citation":           "nothing: citation is empty",
	"unknown-effect":        "the table cannot be read",
	"unknown-word":          "the table cannot be read",
	"other-digest":          "what it describes with --describe is not what it serves",
	"other-scope":           "what it describes with --describe is not what it serves",
	"changes-its-mind":      "the table differs from one call to the next",
	"next-contract":         "it speaks contract 2, not 1",
	"takes-any-contract":    "asked for contract 2 it answers",
	"writes-later":          `it writes to standard output, which belongs to the handshake: "all rules are loaded`,
	"writes-a-file":         "it writes a file, rules.cache",
	"needs-its-environment": "HOME is not set",
	"follows-its-time-zone": "what it describes with --describe is not what it serves",
	"describes-then-fails":  "it does not describe itself with --describe: exit status 3",
	"describes-and-chats":   "something follows the description",
	"starts-by-hand":        "started by hand it should refuse",
	"speaks-in-the-clear":   "started without PLUGIN_CLIENT_CERT it should serve nobody",
	"outlives-its-host":     "after its host was killed; it must see by itself that its host is gone",
	"stays-when-asked":      "it does not end when its host asks it to",
	"huge-reply":            "it does not give its table within",
}

// brief is the limits for those that are known to hang.
var brief = ruletest.Limits{Start: 10 * time.Second, Answer: 5 * time.Second, End: 8 * time.Second, Quiet: 500 * time.Millisecond}

func TestThirtyFaults(t *testing.T) {
	require.Len(t, inTables, len(seeded), "each seeded fault is told")
	require.GreaterOrEqual(t, len(inTables)+len(inProcesses), 30)
	for fault, want := range inTables {
		t.Run(fault, func(t *testing.T) {
			assertTold(t, want, ruletest.Found(func(t ruletest.T) {
				ruletest.Check(t, func() rules.Table { return seedWith(fault) })
			}))
		})
	}
	if testing.Short() {
		return
	}
	for fault, found := range findInProcesses(t) {
		t.Run(fault, func(t *testing.T) { assertTold(t, inProcesses[fault], found) })
	}
}

// findInProcesses runs the kit on several at a time: they mostly wait.
func findInProcesses(t *testing.T) map[string][]string {
	t.Helper()
	binary := build(t)
	var mu sync.Mutex
	found := map[string][]string{}
	var all sync.WaitGroup
	places := make(chan bool, 6)
	for fault := range inProcesses {
		path := install(t, binary, fault)
		all.Go(func() {
			places <- true
			told := ruletest.Found(func(rt ruletest.T) { ruletest.CheckExecutable(ruletest.Within(rt, brief), path) })
			<-places
			mu.Lock()
			defer mu.Unlock()
			found[fault] = told
		})
	}
	all.Wait()
	return found
}

// What is sound passes, so that it is the fault that is found.
func TestWhatIsSoundPasses(t *testing.T) {
	ruletest.Check(t, func() rules.Table { return seed("sound") })
	ruletest.Check(t, func() rules.Table { return table("sound") })
	if !testing.Short() {
		ruletest.CheckExecutable(t, install(t, build(t), "sound"))
	}
}

func assertTold(t *testing.T, want string, found []string) {
	t.Helper()
	assert.Contains(t, strings.Join(found, "\n"), want)
	for _, f := range found {
		assert.False(t, strings.HasPrefix(f, "panic: "), "the kit itself holds: %s", f)
	}
}

func build(t *testing.T) string {
	t.Helper()
	binary := filepath.Join(t.TempDir(), "faulty")
	out, err := exec.CommandContext(t.Context(), "go", "build", "-o", binary, ".").CombinedOutput()
	require.NoError(t, err, "%s", out)
	return binary
}

// install puts the program under the name of a fault.
func install(t *testing.T, binary, fault string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), fault)
	require.NoError(t, os.Link(binary, path))
	return path
}
