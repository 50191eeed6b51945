package command_test

import (
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lawOfTheFen is a folder with the rule sets of a place whose rules ask for every fact
// that there is.
var lawOfTheFen = sync.OnceValues(func() (string, error) {
	folder := filepath.Join(bin, "fen")
	if err := os.CopyFS(folder, os.DirFS(filepath.Join(bin, "rules"))); err != nil {
		return "", err
	}
	return folder, goBuild(folder, []string{"example.org/rootward/plugins/kinds"})
})

// inTheFen runs a command under that law.
func inTheFen(t *testing.T, args ...string) string {
	t.Helper()
	folder, err := lawOfTheFen()
	require.NoError(t, err)
	got := rootward(t, append(args, "--rules", folder)...)
	require.Zero(t, got.code, got.stderr)
	return got.stdout
}

// What flags state reaches the rules, and without them nothing is decided.
func TestFlagsStateWhatRulesAskFor(t *testing.T) {
	explain := func(flags ...string) string {
		return inTheFen(t, append([]string{
			"rules", "explain", "--place", "us/velmora/marl-fen", "--date", "2026-08-10", "--species", "Ailanthus altissima", "--form", "root_sucker",
			"--height-ft", "6", "--method", "low_volume_foliar", "--formulation", "glyphosate-ipa-3", "--equipment", "backpack", "--droplet", "medium_or_coarser",
			"--release-height-ft", "4", "--land-use", "rangeland", "--standing", "certified", "--other-water-beyond-ft", "5280",
		}, flags...)...)
	}
	far := []string{"--other-places-beyond-m", "1000"}
	with := func(flags ...string) []string {
		return append(append([]string{"--category", "forest"}, far...), flags...)
	}
	for name, c := range map[string]struct {
		flags []string
		want  []string
	}{
		"all is stated":         {with(), []string{"CONDITIONAL"}},
		"places are not known":  {[]string{"--category", "forest"}, []string{"UNDETERMINED", "distance to school"}},
		"category is not known": {far, []string{"UNDETERMINED", "kinds/foresters"}},
		"another category":      {append([]string{"--category", "aquatic,regulatory"}, far...), []string{"PROHIBITED", "kinds/foresters"}},
		"one of several":        {with("--category", "aquatic"), []string{"CONDITIONAL"}},
		"by a ditch":            {with("--water-m", "ditch=2:bank_top"), []string{"PROHIBITED", "kinds/water-ditch"}},
		"by a dry ditch":        {with("--water-m", "ditch=2:bank_top:dry"), []string{"CONDITIONAL"}},
		"by a well":             {with("--water-m", "well=20:water_edge"), []string{"PROHIBITED", "kinds/well-reducible"}},
		"by a well, as granted": {with("--water-m", "well=20:water_edge", "--granted", "kinds/well-reducible"), []string{"CONDITIONAL"}},
		"within a listed area":  {with("--distance-ft", "listed_species_area=0", "--date", "2026-06-01"), []string{"PROHIBITED", "kinds/nesting"}},
		"it is not nesting":     {with("--distance-ft", "listed_species_area=0"), []string{"CONDITIONAL"}},
		"in the wind's season":  {with("--date", "2026-11-02"), []string{"kinds/wind-in-season"}},
	} {
		t.Run(name, func(t *testing.T) { contains(t, explain(c.flags...), c.want...) })
	}
	exempt := explain(with("--date", "2026-11-02", "--drift-control", "approved", "--carrier-gal-per-ac", "10")...)
	assert.NotContains(t, exempt, "kinds/wind-in-season")
	contains(t, explain(with("--date", "2026-11-02", "--drift-control", "approved", "--carrier-gal-per-ac", "9.99")...), "kinds/wind-in-season")
}

// An inventory states the same in its columns, and the settings by flags.
func TestAnInventoryStatesWhatRulesAskFor(t *testing.T) {
	file := filepath.Join(t.TempDir(), "fen.csv")
	const text = `occurrenceID,scientificName,form,locationID,place,site_area_ac,dbh_in,height_ft,desirable_vegetation,land_use,soil_state,bark_state,other_water_beyond_m,distance_well_m,distance_well_from,other_places_beyond_m
far,Ailanthus altissima,sapling,rim,us/velmora/marl-fen,2,3,20,none,rangeland,moist,dry,1000,,,1000
by-the-well,Ailanthus altissima,sapling,rim,us/velmora/marl-fen,2,3,20,none,rangeland,moist,dry,1000,20,water_edge,1000
unknown-places,Ailanthus altissima,sapling,rim,us/velmora/marl-fen,2,3,20,none,rangeland,moist,dry,1000,,,
`
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	said := func(id string, flags ...string) string {
		return inTheFen(t, append([]string{"explain", file, "--id", id, "--date", "2026-08-10", "--standing", "certified", "--formulation", "triclopyr-ester-4"}, flags...)...)
	}
	contains(t, said("far", "--category", "forest"), "Basal bark")
	contains(t, said("far"), "kinds/foresters")
	contains(t, said("unknown-places", "--category", "forest"), "distance to school")
	assert.NotContains(t, said("by-the-well", "--category", "forest", "--granted", "rim=kinds/well-reducible"), "PROHIBITED")
	contains(t, said("by-the-well", "--category", "forest"), "kinds/well-reducible")
}
