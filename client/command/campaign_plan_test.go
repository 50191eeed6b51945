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
