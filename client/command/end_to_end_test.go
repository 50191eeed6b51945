package command_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/daemon"
)

// table reads a CSV file as one map a record.
func table(t *testing.T, path string) []map[string]string {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, name := range records[0] {
			row[name] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func outcomes(rows []map[string]string) map[string]int {
	count := map[string]int{}
	for _, r := range rows {
		count[r["outcome"]]++
	}
	return count
}

func prescribeDemo(t *testing.T, args ...string) (outcome, []map[string]string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "result.csv")
	got := rootward(t, append([]string{"prescribe", demo, "--date", "2026-08-10", "--standing", "certified", "--out-csv", path}, args...)...)
	require.Zero(t, got.code, got.stderr)
	return got, table(t, path)
}

func TestTheDemoIsAnsweredRowByRow(t *testing.T) {
	folder := t.TempDir()
	collection, sheet := filepath.Join(folder, "result.geojson"), filepath.Join(folder, "sheet.html")
	got, rows := prescribeDemo(t, "--out-geojson", collection, "--sheet", sheet)
	asked := table(t, demo)
	require.Len(t, rows, len(asked))
	for i, r := range rows {
		assert.Equal(t, asked[i]["occurrenceID"], r["occurrenceID"])
		if r["outcome"] == "rejected" {
			assert.True(t, strings.HasPrefix(asked[i]["occurrenceRemarks"], "fault"), "%s: %s", r["occurrenceID"], r["faults"])
		}
	}
	count := outcomes(rows)
	for _, word := range []string{"prescribed", "deferred", "undetermined", "rejected"} {
		assert.Positive(t, count[word], word)
		contains(t, got.stdout, fmt.Sprintf("%d %s", count[word], word))
	}
	contains(t, got.stdout, "551 rows in, each answered once", "SPLIT over 2 seasons", "The label is the law and stands above this plan.")
	assert.Empty(t, got.stderr, "progress is for terminals alone")

	content, err := os.ReadFile(collection)
	require.NoError(t, err)
	var features struct{ Features []json.RawMessage }
	require.NoError(t, json.Unmarshal(content, &features))
	assert.Len(t, features.Features, len(rows))
	page, err := os.ReadFile(sheet)
	require.NoError(t, err)
	assert.Equal(t, count["prescribed"], strings.Count(string(page), `<td class="tick"><span class="box"></span></td>`))
}

// A site over its annual maximum is split by the server's shares, so the order of
// the rows does not matter.
func TestTheSplitOfASiteDoesNotDependOnTheOrderOfTheRows(t *testing.T) {
	content, err := os.ReadFile(demo)
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(content)), "\n")
	turned := []string{lines[0]}
	for i := len(lines) - 1; i > 0; i-- {
		turned = append(turned, lines[i])
	}
	path := filepath.Join(t.TempDir(), "turned.csv")
	require.NoError(t, os.WriteFile(path, []byte(strings.Join(turned, "\n")+"\n"), 0o600))
	result := filepath.Join(t.TempDir(), "result.csv")
	got := rootward(t, "prescribe", path, "--date", "2026-08-10", "--standing", "certified", "--out-csv", result)
	require.Zero(t, got.code, got.stderr)

	_, rows := prescribeDemo(t)
	want := map[string]string{}
	for _, r := range rows {
		want[r["occurrenceID"]] = r["outcome"] + " " + r["method"] + " " + r["product_ml"]
	}
	for _, r := range table(t, result) {
		assert.Equal(t, want[r["occurrenceID"]], r["outcome"]+" "+r["method"]+" "+r["product_ml"], r["occurrenceID"])
	}
}

func TestARuleSetThatIsTakenAwayMakesItsPlaceUndetermined(t *testing.T) {
	_, all := prescribeDemo(t)
	folder := t.TempDir()
	for _, name := range []string{"federal", "velmora"} {
		require.NoError(t, os.Link(filepath.Join(bin, "rules", name), filepath.Join(folder, name)))
	}
	_, fewer := prescribeDemo(t, "--rules", folder)
	for i, r := range fewer {
		if r["outcome"] == "prescribed" {
			assert.NotEqual(t, "us/velmora/ossel-creek", r["place"], r["occurrenceID"])
		}
		if r["place"] == "us/velmora" {
			assert.Equal(t, all[i]["outcome"], r["outcome"], r["occurrenceID"])
		}
	}
	assert.Less(t, outcomes(fewer)["prescribed"], outcomes(all)["prescribed"])
}

func TestARunningServerGivesTheSameAnswers(t *testing.T) {
	d, err := daemon.Start(t.Context(), daemon.Options{Program: filepath.Join(bin, "rootwardd")})
	require.NoError(t, err)
	defer func() { require.NoError(t, d.Close()) }()
	result := filepath.Join(t.TempDir(), "result.csv")
	got := direct(t, "prescribe", demo, "--date", "2026-08-10", "--standing", "certified", "--out-csv", result, "--server", d.Address)
	require.Zero(t, got.code, got.stderr)
	_, private := prescribeDemo(t)
	assert.Equal(t, private, table(t, result))
}

func TestOneSiteAlone(t *testing.T) {
	_, rows := prescribeDemo(t, "--site", "ferry-lane")
	_, all := prescribeDemo(t)
	want := map[string]string{}
	for _, r := range all {
		want[r["row"]] = r["outcome"]
	}
	require.NotEmpty(t, rows)
	for _, r := range rows {
		assert.True(t, r["locationID"] == "ferry-lane" || r["outcome"] == "rejected", r["row"])
		assert.Equal(t, want[r["row"]], r["outcome"], r["row"])
	}
}

func TestAnAmountAppliedEarlierLeavesLess(t *testing.T) {
	_, before := prescribeDemo(t)
	got, after := prescribeDemo(t, "--applied-ae-g", "ferry-lane:triclopyr=1000")
	contains(t, got.stdout, "1 amount of earlier treatments")
	assert.Greater(t, outcomes(after)["deferred"], outcomes(before)["deferred"])
}

// A sheet that cannot hold the inventory is refused, in as many words for many rows as for one.
func TestASheetOfTooManyRowsWritesNothing(t *testing.T) {
	var b strings.Builder
	b.WriteString("occurrenceID,scientificName,locationID,place,site_area_ac,form,dbh_in\n")
	for i := range 5101 {
		fmt.Fprintf(&b, "s-%d,Ailanthus altissima,mill-meadow,us/velmora,600,tree,10\n", i)
	}
	folder := t.TempDir()
	path := filepath.Join(folder, "inventory.csv")
	require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
	got := rootward(t, "prescribe", path, "--date", "2026-08-10", "--out-csv", filepath.Join(folder, "r.csv"), "--sheet", filepath.Join(folder, "s.html"))
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, "at most 5000 rows", "--site")
	assert.Equal(t, 1, strings.Count(got.stderr, "\n"), got.stderr)
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, left, 1)
}

func TestOneRowIsExplainedInFull(t *testing.T) {
	_, rows := prescribeDemo(t)
	for _, word := range []string{"prescribed", "deferred", "undetermined", "rejected"} {
		for _, r := range rows {
			if r["outcome"] != word {
				continue
			}
			got := rootward(t, "explain", demo, "--row", r["row"], "--date", "2026-08-10", "--standing", "certified")
			require.Zero(t, got.code, got.stderr)
			contains(t, got.stdout, "ROW "+r["row"]+" ", "standing certified", "outcome "+strings.ToUpper(word))
			switch word {
			case "prescribed":
				contains(t, got.stdout, "DOSE", "RULES THAT APPLY", "AGAINST THE OTHERS", "sha256", "= "+trimmed(r["mix_ml"])+" mL")
			case "rejected":
				contains(t, got.stdout, "WHAT IS WRONG", "line "+r["line"])
			default:
				contains(t, got.stdout, "WOULD BE NEXT (DO NOT TREAT)")
				assert.NotContains(t, strings.ToUpper(got.stdout), "\nDOSE\n")
			}
			break
		}
	}
}

func trimmed(s string) string { return strings.TrimSuffix(s, ".0") }

func TestTheOtherCommands(t *testing.T) {
	stem := []string{"--species", "Ailanthus altissima", "--form", "tree", "--dbh-in", "10"}
	with := func(head []string, more ...string) []string { return append(append(head, stem...), more...) }
	for name, c := range map[string]struct {
		args []string
		want []string
	}{
		// One cut an inch of diameter, 1 mL a cut (Pacific Northwest Weed Management
		// Handbook, stem injection).
		"dose": {with([]string{"dose", "--method", "hack_and_squirt", "--formulation", "glyphosate-ipa-3"}), []string{"10 cuts of 1 mL", "mix 10 mL", "arithmetic alone"}},
		"dose by girth": {[]string{"dose", "--species", "Ailanthus altissima", "--form", "tree", "--girth-in", "31.4159", "--method", "hack_and_squirt", "--formulation", "glyphosate-ipa-3"},
			[]string{"10 cuts of 1 mL"}},
		"dose by measures that do not fit": {with([]string{"dose", "--method", "hack_and_squirt", "--formulation", "glyphosate-ipa-3", "--height-ft", "4"}), []string{"Check diameter and height and their units"}},
		"select": {with([]string{"select", "--date", "2026-08-10", "--place", "us/velmora", "--site-area-ac", "2", "--standing", "certified"},
			"--height-ft", "40", "--desirable", "none", "--land-use", "forest", "--soil", "moist", "--bark", "dry", "--other-water-beyond-ft", "500"),
			[]string{"1. Hack and squirt", "WHAT MAY NOT", "above 6 in (15.24 cm) the bark lets too little through"}},
		"select on unknown ground": {with([]string{"select", "--date", "2026-08-10", "--place", "us/nowhere", "--site-area-ac", "2"}), []string{"nothing on that day", "by law undetermined"}},
		"rules list":               {[]string{"rules", "list"}, []string{"federal ", "velmora ", "ossel-creek ", "sha256"}},
		"rules list of a place":    {[]string{"rules", "list", "--place", "us/nowhere"}, []string{"federal "}},
		"rules show":               {[]string{"rules", "show", "ossel-creek"}, []string{"buffer-foliar:", "bylaw 2"}},
		"rules explain": {with([]string{"rules", "explain", "--place", "us/velmora", "--date", "2026-12-24", "--method", "basal_bark", "--formulation", "triclopyr-ester-4"}),
			[]string{"PROHIBITED", "only from 15 July to 15 October"}},
		"rules explain where sets differ": {with([]string{"rules", "explain", "--place", "us/velmora/ossel-creek", "--date", "2026-08-10", "--method", "basal_bark", "--formulation", "triclopyr-ester-4"}),
			[]string{"WHERE RULE SETS ASK FOR DIFFERENT THINGS", "ossel-creek/window-low-water is the stricter and holds"}},
		"catalogue": {[]string{"catalogue"}, []string{"Ailanthus altissima (tree-of-heaven)", "glyphosate-ipa-3", "annual max"}},
		// 5940 x gal/min / (mph x in), and 1/128 acre, by which fluid ounces read as
		// gallons per acre (the arithmetic of the units).
		"calibrate walk":  {[]string{"calibrate", "walk", "--output-gal-per-min", "0.3", "--distance-ft", "88", "--time-s", "20", "--swath-in", "60"}, []string{"9.9 gal/ac"}},
		"calibrate plot":  {[]string{"calibrate", "plot", "--length-ft", "18.5", "--width-ft", "18.5", "--caught-fl-oz", "20"}, []string{"20 gal/ac"}},
		"calibrate weigh": {[]string{"calibrate", "weigh", "--before-g", "9000", "--after-g", "8000", "--density-g-per-ml", "0.8", "--stems-in", "4x15x10"}, []string{"mL per square inch of bark"}},
	} {
		t.Run(name, func(t *testing.T) {
			got := rootward(t, c.args...)
			require.Zero(t, got.code, got.stderr)
			contains(t, got.stdout, c.want...)
		})
	}
}

// What the catalogue says of a product decides where no flag says otherwise.
func TestRulesExplainTakesTheProductFromTheCatalogue(t *testing.T) {
	explain := func(flags ...string) string {
		got := rootward(t, append([]string{"rules", "explain", "--species", "Ailanthus altissima", "--form", "tree", "--dbh-in", "5", "--place", "us/velmora",
			"--date", "2026-08-10", "--method", "basal_bark", "--formulation", "triclopyr-ester-4"}, flags...)...)
		require.Zero(t, got.code, got.stderr)
		return got.stdout
	}
	alone := explain()
	assert.NotContains(t, alone, "federal/restricted-use-standing")
	assert.Equal(t, explain("--toxicity", "III", "--restricted-use", "general_use"), alone)
	contains(t, explain("--restricted-use", "restricted_use"), "federal/restricted-use-standing")
}

func TestARefusalOfTheServerNamesEveryField(t *testing.T) {
	got := rootward(t, "calibrate", "plot", "--length-ft=0", "--width-ft=-1", "--caught-fl-oz", "20")
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, "small_plot.length_ft:", "small_plot.width_ft:")
	assert.NotContains(t, got.stderr, "INVALID_REQUEST")
}
