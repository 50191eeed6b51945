package command_test

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const demoWater = "../../testdata/demo/water"

// Rows whose distances nobody measured are decided by the map, where it can; every
// other row is answered as without it.
func TestTheDemosMapDecidesWhatNobodyMeasured(t *testing.T) {
	_, without := prescribeDemo(t)
	got, with := prescribeDemo(t, "--water", demoWater)
	contains(t, got.stdout, "water ossel-creek, sha256")
	asked := table(t, demo)
	decided, unknown := 0, 0
	for i, r := range with {
		if !strings.Contains(asked[i]["occurrenceRemarks"], "nobody measured") {
			assert.Empty(t, r["water_distances"], r["occurrenceID"])
			assert.Equal(t, without[i]["outcome"], r["outcome"], r["occurrenceID"])
			continue
		}
		require.Equal(t, "undetermined", without[i]["outcome"], r["occurrenceID"])
		if r["water_distances"] == "" {
			unknown++
			assert.Equal(t, "undetermined", r["outcome"])
			continue
		}
		assert.Contains(t, r["water_distances"], "perennial stream: computed")
		decided++
	}
	assert.Equal(t, 8, decided)
	assert.Equal(t, 2, unknown, "one without an uncertainty, one off the map")

	// Hack and squirt and spraying are told apart by 15, 50 and 100 ft of the bank.
	spot := func(id string) map[string]string {
		for _, r := range with {
			if r["occurrenceID"] == id {
				return r
			}
		}
		return nil
	}
	assert.Equal(t, "low_volume_foliar", spot("alder-ford-044")["method"], "beyond 100 ft")
	assert.Equal(t, "deferred", spot("alder-ford-042")["outcome"], "suckers within 50 ft")
	assert.Contains(t, spot("alder-ford-040")["remedies"], "coordinateUncertaintyInMeters")
	assert.Contains(t, spot("alder-ford-045")["remedies"], "which no water layer covers there")
}

func TestASettingOfUncertaintyDecides(t *testing.T) {
	_, rows := prescribeDemo(t, "--water", demoWater, "--site", "alder-ford", "--coordinate-uncertainty-ft", "10")
	for _, r := range rows {
		if r["occurrenceID"] == "alder-ford-040" {
			assert.Contains(t, r["water_distances"], "perennial stream: computed")
		}
	}
}

func TestExplainShowsDistances(t *testing.T) {
	got := rootward(t, "explain", demo, "--date", "2026-08-10", "--standing", "certified", "--water", demoWater, "--id", "alder-ford-044")
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "DISTANCES TO WATER", "Perennial stream: computed 185.8 ft", "from the bank top")
}

func TestSelectComputesDistances(t *testing.T) {
	sucker := []string{"select", "--date", "2026-08-10", "--standing", "certified", "--place", "us/velmora/ossel-creek", "--site-area-ac", "8",
		"--species", "Ailanthus altissima", "--form", "root_sucker", "--root-collar-in", "0.7", "--height-ft", "4", "--desirable", "none", "--land-use", "pasture_grazed",
		"--water", demoWater, "--coordinate-uncertainty-m", "3", "--stem-latitude-deg", "42.999000"}
	for longitude, may := range map[string]bool{"-37.971200": true, "-37.970600": false} {
		got := rootward(t, append(sucker, "--stem-longitude-deg="+longitude)...)
		require.Zero(t, got.code, got.stderr)
		ranked, _, _ := strings.Cut(got.stdout, "WHAT MAY NOT")
		assert.Equal(t, may, strings.Contains(ranked, "Low volume foliar"), longitude)
	}
	got := rootward(t, sucker...)
	assert.Equal(t, 2, got.code)
	contains(t, got.stderr, "--stem-latitude-deg and --stem-longitude-deg")
}

func TestWaterIsShownAndMeasured(t *testing.T) {
	got := rootward(t, "water", "layers", "--water", demoWater)
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "ossel-creek, sha256", "features 3, edges 9", "perennial stream: features 1, from the bank top; all there is, within latitudes 42.9965 to 43.0015")
	got = rootward(t, "water", "layers")
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "The server has no water layers")

	at := []string{"water", "measure", "--latitude-deg", "42.999000", "--longitude-deg=-37.970700", "--within-ft", "300"}
	got = rootward(t, append(at, "--water", demoWater, "--coordinate-uncertainty-m", "2", "--units", "metric")...)
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "perennial stream: 14.2 m from the bank top", "lake: at least", "not known there: intake category 1")
	for name, args := range map[string][]string{
		"--coordinate-uncertainty-m": at,
		"--within-m":                 {"water", "measure", "--latitude-deg", "1", "--longitude-deg", "2", "--coordinate-uncertainty-m", "1"},
		"not a decimal number":       {"water", "measure", "--latitude-deg", "1e1", "--longitude-deg", "2"},
		"0 is not above 0":           append(at, "--coordinate-uncertainty-m", "0"),
		"-0.0 is not above 0":        {"prescribe", demo, "--date", "2026-08-10", "--coordinate-uncertainty-ft=-0.0"},
		`"NaN" is not a number`:      {"prescribe", demo, "--date", "2026-08-10", "--coordinate-uncertainty-ft", "NaN"},
	} {
		got := rootward(t, args...)
		assert.Equal(t, 2, got.code, name)
		contains(t, got.stderr, name)
	}
	got = rootward(t, append(at, "--coordinate-uncertainty-m", "2")...)
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, "--water DIR", "NO_WATER")
	got = rootward(t, append(at, "--water", filepath.Join(t.TempDir(), "none"), "--coordinate-uncertainty-m", "2")...)
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, "--water")
}
