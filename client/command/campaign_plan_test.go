package command_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a user does first: a site, a survey of plots, and the product to buy as a range.
func TestASampleOnTheCommandLine(t *testing.T) {
	folder := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	site := file("site.yaml", "place: us/velmora\ntime_zone: America/New_York\narea_m2: 20000\n")
	header := "occurrenceID,scientificName,locationID,place,form,dbh_in,height_ft,individualCount,desirable_vegetation,land_use,soil_state,bark_state,slope_percent,other_water_beyond_ft\n"
	one := file("one.csv", header+"a,Ailanthus altissima,bank,us/velmora,tree,8,40,3,none,forest,moist,dry,4,500\n")
	two := file("two.csv", header+"b,Ailanthus altissima,bank,us/velmora,sapling,3,20,9,none,forest,moist,dry,4,500\n")
	sample := file("sample.yaml", "date: {year: 2026, month: 7, day: 1}\nsample:\n  radius_m: 5.64\n  plots: [{plot_id: P3}]\n")
	data := []string{"--data", filepath.Join(folder, "data")}
	run := func(args ...string) outcome {
		t.Helper()
		return rootward(t, append(args, data...)...)
	}
	require.Zero(t, run("sites", "add", "bank", "--file", site).code)
	got := run("surveys", "add", "sites/bank", "plots", "--file", sample, "--plot", "P1="+one, "--plot", "P2="+two)
	require.Zero(t, got.code, got.stderr)
	for _, want := range []string{"a sample of 3 plots", "ON THE WHOLE SITE, WITH THE INTERVAL OF 95 %", "product glyphosate", " to ", "3 plots are few", "stems of 8 to below 10 in"} {
		assert.Contains(t, got.stdout, want)
	}
	got = run("surveys", "add", "sites/bank", "bad", "--file", sample, "--plot", "P1")
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "--plot P1: state ID=FILE or STRATUM/ID=FILE")
	assert.Contains(t, run("surveys", "list", "sites/bank").stdout, "sites/bank/surveys/plots  version 1  2026-07-01")
}

// Hand pull has no window by the rules: a plan says so, and puts it into days.
func TestAPlanOfHandPullOnTheCommandLine(t *testing.T) {
	folder := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	run := func(args ...string) string {
		t.Helper()
		got := rootward(t, append(args, "--data", filepath.Join(folder, "data"), "--quiet")...)
		require.Zero(t, got.code, got.stderr)
		return got.stdout
	}
	run("sites", "add", "bank", "--file", file("site.yaml", "place: us/velmora\ntime_zone: America/New_York\narea_m2: 20000\n"))
	run("surveys", "add", "sites/bank", "first", "--file", file("survey.yaml", "date: {year: 2026, month: 6, day: 20}\n"),
		"--stems", file("stems.csv", "occurrenceID,scientificName,locationID,place,form,dbh_cm,height_m,desirable_vegetation,soil_state,root_check,land_use,other_water_beyond_m,other_places_beyond_m,individualCount\n"+
			"s1,Ailanthus altissima,bank,us/velmora,seedling,1,0.3,none,moist,taproot,forest,300,300,200\n"))
	plan := run("plans", "make", "s31", "--out-ics", filepath.Join(folder, "s31.ics"), "--file", file("plan.yaml",
		"from: {year: 2031, month: 7, day: 7}\nsites: [sites/bank]\nsettings: {standing: STANDING_CERTIFIED}\ncrews: [{crew_id: one, people: 2, hours_per_day: 8}]\n"))
	for _, want := range []string{"bank-1  2031-07-07 with no last day  hand pull  1 row, 200 stems, 6.7 person-hours", "nothing is applied", "2031-07-07  one          bank-1               200 stems, 6.7 person-hours"} {
		assert.Contains(t, plan, want)
	}
	events, err := os.ReadFile(filepath.Join(folder, "s31.ics"))
	require.NoError(t, err)
	assert.Contains(t, string(events), "SUMMARY:bank-1\\, crew one")
}
