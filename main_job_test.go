package rootward_test

import (
	"encoding/csv"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The tests here run the built programs on whole inventories, as a user does.

// programs are the binaries, built once.
var programs = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "rootward-programs-")
	if err != nil {
		return "", err
	}
	for _, b := range []struct{ from, to string }{
		{"./server/cmd/rootwardd", "rootwardd"}, {"./client/cmd/rootward", "rootward"},
		{"./plugins/federal", "rules/federal"}, {"./plugins/velmora", "rules/velmora"},
		{"./plugins/ossel-creek", "rules/ossel-creek"}, {"./plugins/editions/velmora-2027", "editions/velmora"},
	} {
		build := exec.Command("go", "build", "-o", filepath.Join(dir, b.to), b.from)
		build.Env = append(os.Environ(), "CGO_ENABLED=0") // rule plugins are confined and load no library
		out, err := build.CombinedOutput()
		if err != nil {
			os.Stderr.Write(out)
			return dir, err
		}
	}
	return dir, nil
})

func TestMain(m *testing.M) {
	// Nobody has signed the rule sets that are built here.
	os.Setenv("ROOTWARD_UNSIGNED", "all")
	os.Setenv("ROOTWARD_UNCONFINED", "all")
	code := m.Run()
	if dir, _ := programs(); dir != "" {
		os.RemoveAll(dir)
	}
	os.Exit(code)
}

// rulesFolder gathers rule plugins by their path below the built programs.
func rulesFolder(t *testing.T, plugins ...string) string {
	t.Helper()
	built, err := programs()
	require.NoError(t, err)
	dir := t.TempDir()
	for _, p := range plugins {
		binary, err := os.ReadFile(filepath.Join(built, p))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.Base(p)), binary, 0o755))
	}
	return dir
}

// answers are the rows of a result file, by column.
type answers []map[string]string

// prescribe runs the command line on an inventory for 10 August 2026.
func prescribe(t *testing.T, rules, inventory string) answers {
	t.Helper()
	built, err := programs()
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "out.csv")
	command := exec.Command(filepath.Join(built, "rootward"), "prescribe", inventory,
		"--date", "2026-08-10", "--standing", "certified", "--rules", rules, "--out-csv", file)
	out, err := command.CombinedOutput()
	require.NoError(t, err, string(out))
	return readAnswers(t, file)
}

func readAnswers(t *testing.T, file string) answers {
	t.Helper()
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.NotEmpty(t, rows)
	list := make(answers, len(rows)-1)
	for i, row := range rows[1:] {
		list[i] = map[string]string{}
		for j, value := range row {
			list[i][rows[0][j]] = value
		}
	}
	return list
}

func (a answers) count(columns ...string) map[string]int {
	counts := map[string]int{}
	for _, row := range a {
		parts := make([]string, len(columns))
		for i, c := range columns {
			parts[i] = row[c]
		}
		counts[strings.Join(parts, " ")]++
	}
	return counts
}

var shippedRules = []string{"rules/federal", "rules/velmora", "rules/ossel-creek"}

func TestDemoInventory(t *testing.T) {
	got := prescribe(t, rulesFolder(t, shippedRules...), "testdata/demo/inventory.csv")
	outcomes, methods := got.count("outcome"), got.count("method")
	assert.GreaterOrEqual(t, len(got), 400)
	for _, o := range []string{"prescribed", "deferred", "undetermined", "rejected"} {
		assert.Positive(t, outcomes[o], o)
	}
	assert.Len(t, outcomes, 4, "no fifth outcome")
	for _, m := range []string{"hand_pull", "low_volume_foliar", "high_volume_foliar", "basal_bark", "hack_and_squirt", "cut_stump"} {
		assert.Positive(t, methods[m], m)
	}
	for _, row := range got {
		dosed := row["mix_ml"] != ""
		assert.False(t, dosed && row["outcome"] != "prescribed", "%s has a dose and is %s", row["occurrenceID"], row["outcome"])
		if row["outcome"] != "rejected" {
			assert.Contains(t, row["cautions"], "The label is the law and stands above this plan.", row["occurrenceID"])
			assert.Contains(t, row["rule_sets"], "federal", row["occurrenceID"])
		}
	}
}

// A root-suckerer never gets a stump treatment, wherever it stands in the file.
func TestDemoNeverStumpTreatsARootSuckerer(t *testing.T) {
	suckerers := []string{"Ailanthus altissima", "Robinia pseudoacacia", "Populus alba", "Elaeagnus umbellata", "Elaeagnus angustifolia", "Paulownia tomentosa"}
	got := prescribe(t, rulesFolder(t, shippedRules...), "testdata/demo/inventory.csv").count("method", "scientificName")
	for _, s := range suckerers {
		assert.Zero(t, got["cut_stump "+s])
	}
}

// Swapping a rule plugin, with the same server binary, changes the answers.
func TestSwappedRulesChangeTheAnswers(t *testing.T) {
	const demo = "testdata/demo/inventory.csv"
	before := prescribe(t, rulesFolder(t, shippedRules...), demo)

	t.Run("the state's next edition", func(t *testing.T) {
		// Its window for root-suckerers opens on 15 August.
		after := prescribe(t, rulesFolder(t, "rules/federal", "editions/velmora", "rules/ossel-creek"), demo)
		require.Len(t, after, len(before))
		assert.Less(t, after.count("outcome")["prescribed"], before.count("outcome")["prescribed"])
		for i := range before {
			if before[i]["outcome"] == "prescribed" && before[i]["method"] == "hack_and_squirt" && before[i]["scientificName"] == "Ailanthus altissima" {
				assert.Equal(t, "deferred", after[i]["outcome"], after[i]["occurrenceID"])
				assert.GreaterOrEqual(t, after[i]["treat_from"], "2026-08-15")
				assert.Contains(t, after[i]["rule_sets"], "2027-draft")
			}
		}
	})
	t.Run("the district's plugin is gone", func(t *testing.T) {
		after := prescribe(t, rulesFolder(t, "rules/federal", "rules/velmora"), demo)
		for i, row := range after {
			switch {
			case row["outcome"] == "rejected":
			case row["place"] == "us/velmora/ossel-creek" && row["outcome"] == "prescribed":
				t.Errorf("%s is prescribed where no district law is at hand", row["occurrenceID"])
			case row["place"] == "us/velmora":
				assert.Equal(t, before[i]["outcome"], row["outcome"], "another place's law is no matter: %s", row["occurrenceID"])
			}
		}
		assert.Greater(t, after.count("outcome")["undetermined"], before.count("outcome")["undetermined"])
	})
	t.Run("the district's law instead of none", func(t *testing.T) {
		differ := 0
		noBark := map[string]bool{"mill-meadow-151": true, "mill-meadow-152": true, "mill-meadow-153": true}
		after := prescribe(t, rulesFolder(t, shippedRules...), districtDemo(t))
		for i := range before {
			if before[i]["place"] == "us/velmora" && before[i]["method"] == "hack_and_squirt" {
				// The district closes its window on 30 September, the state on 15 October; until the
				// leaves fall, on 1 October, whoever has no note of the bark.
				until := "2026-10-15"
				if noBark[before[i]["occurrenceID"]] {
					until = "2026-09-30"
				}
				assert.Equal(t, until, before[i]["treat_until"], before[i]["occurrenceID"])
				assert.Equal(t, "2026-09-30", after[i]["treat_until"], before[i]["occurrenceID"])
				differ++
			}
		}
		assert.Positive(t, differ)
	})
}

// districtDemo is the demo inventory with all of the state's sites moved into the
// district.
func districtDemo(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("testdata/demo/inventory.csv")
	require.NoError(t, err)
	moved := strings.ReplaceAll(string(text), ",us/velmora,", ",us/velmora/ossel-creek,")
	file := filepath.Join(t.TempDir(), "moved.csv")
	require.NoError(t, os.WriteFile(file, []byte(moved), 0o644))
	return file
}

// The open measurements: 1,245 stems that somebody measured. What is expected by
// method follows from the counts by size that testdata/open makes straight from
// the raw files: basal bark up to and including 6 in, cuts above (Rutgers Plant &
// Pest Advisory); foliar within 10 ft (common practice, no source); cut stump for
// the species that sprouts from the stump alone.
func TestOpenMeasurements(t *testing.T) {
	want := map[string]int{}
	for _, row := range readAnswers(t, "testdata/open/expected.csv") {
		stems, err := strconv.Atoi(row["stems"])
		require.NoError(t, err)
		want[row["site"]+" "+methodBySize(row)] += stems
	}
	got := map[string]int{}
	for _, row := range prescribe(t, rulesFolder(t, shippedRules...), "testdata/open/inventory.csv") {
		method := row["method"] + row["candidate_method"] // one of the two is empty
		if row["outcome"] == "rejected" {
			method = "rejected"
		}
		got[row["locationID"]+" "+method]++
	}
	assert.Equal(t, want, got)
}

func methodBySize(row map[string]string) string {
	switch {
	case row["diameter_class"] == "zero":
		return "rejected"
	case row["site"] == "cherry":
		return "cut_stump"
	case row["height_class"] == "below_breast_height", row["height_class"] == "up_to_10_ft":
		return "low_volume_foliar"
	case row["diameter_class"] == "over_6_in":
		return "hack_and_squirt"
	}
	return "basal_bark"
}
