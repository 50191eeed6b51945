package command_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
)

// What the server says of a field of the API is said of the flag that sets it.
func TestARefusalNamesFlags(t *testing.T) {
	got := rootward(t, "prescribe", demo, "--date", "2026-08-10", "--out-csv", filepath.Join(t.TempDir(), "r.csv"),
		"--foliar-reach-ft=-1", "--basal-band-in=-1", "--wetting-ml-per-in2=-1", "--cut-ml=-1", "--low-volume-gal-per-ac=-1", "--high-volume-gal-per-ac=-1",
		"--formulation", "nonesuch", "--tank-gal=-1", "--spare-percent=-1", "--handgun-tank-gal=-1")
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, "--foliar-reach-ft (settings.foliar_reach_m):", "--basal-band-in (settings.basal_band_cm):", "--wetting-ml-per-in2 (settings.wetting_ml_per_in2):",
		"--cut-ml (settings.cut_ml):", "--low-volume-gal-per-ac (settings.low_volume_gal_per_ac):", "--high-volume-gal-per-ac (settings.high_volume_gal_per_ac):",
		"--formulation (settings.formulation_ids):", "--tank-gal (settings.tank_gal):", "--spare-percent (settings.spare_percent):", "--handgun-tank-gal (settings.handgun_tank_gal):")
}
