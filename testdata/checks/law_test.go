package checks_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/rulehost"
	"example.org/rootward/server/treatment"
)

// summer is a day on which the federal plugin is in force.
var summer = civil.Of(2026, time.August, 10)

// law is what the rules decide: a table of one row for a buffer, the compiled
// federal plugin for the rest.
var law = map[string]func(*input) answer{
	"buffer": func(in *input) answer {
		row := rules.Buffer{Water: rules.AnyOf(rules.PerennialStream), Distance: in.length("limit"), From: rules.WaterEdge}
		var site rules.Surroundings
		site.Water.Set(rules.PerennialStream, rules.WaterDistance{Distance: in.length("distance"), Origin: rules.WaterEdge})
		return either(oneRow(in, summer, row).Narrow(rules.Treatment{}).Decide(&site) == rules.Allowed, "allow", "block")
	},
	"within_reach": func(in *input) answer {
		reach := rules.AtMost(rules.Height, int64(in.length("reach")))
		return either(reach.Holds(int64(in.length("distance"))), "yes", "no")
	},
	"water_body_covered": func(in *input) answer {
		covered := rules.Above(rules.LakeArea, int64(in.area("limit")))
		return either(covered.Holds(int64(in.area("area"))), "yes", "no")
	},
	"spot_exempt": func(in *input) answer {
		exempt := rules.Below(rules.TreatedArea, int64(in.area("limit")))
		return either(exempt.Holds(int64(in.area("area"))), "yes", "no")
	},

	// Each active ingredient's hours are the plugin's; the next one's plan starts
	// from them, as a plan starts from the hours of a label.
	"entry_interval_h": func(in *input) answer {
		hours := 0
		for _, c := range words[rules.ToxicityCategory](in, "categories") {
			hours = entryHours(in, c, hours)
		}
		return number(float64(hours))
	},
	"exclusion_zone_ft": exclusionZone,

	"record_on_time": func(in *input) answer {
		return either(int(in.number("days_after")) <= privateRecord(in).WithinDays, "yes", "no")
	},
	"record_due": func(in *input) answer {
		applied := in.date("applied")
		record, inForce := recordOn(in, applied)
		require.True(in.t, inForce)
		return word(applied.AddDays(record.WithinDays).String())
	},
	"record_keep_years": func(in *input) answer { return number(float64(privateRecord(in).KeepYears)) },
	"record_rule_in_force": func(in *input) answer {
		_, inForce := recordOn(in, in.date("applied"))
		return either(inForce, "yes", "no")
	},
	"signal_word": func(in *input) answer {
		f := treatment.Formulation{Toxicity: slices.Min(words[rules.ToxicityCategory](in, "categories"))}
		return word(f.SignalWord())
	},
}

// oneRow is the law of a place that has rows of the given effects and no other.
func oneRow(in *input, on civil.Date, effects ...rules.Effect) *rules.Governing {
	from := civil.Of(2024, time.January, 1)
	table := rules.Table{Manifest: rules.Manifest{
		ID: "nation", Version: "1", Title: "One row", Publisher: "Invented agency", Layer: rules.Federal, Scope: "us", ValidFrom: from,
	}}
	for _, e := range effects {
		table.Rows = append(table.Rows, rules.Row{ID: "row-" + string(rune('a'+len(table.Rows))), Purpose: "One effect.", Citation: "invented", ValidFrom: from, Effect: e})
	}
	set, err := rules.NewSet(table)
	require.NoError(in.t, err)
	g := rules.Govern("us", on, []*rules.Set{set})
	require.Empty(in.t, g.Gaps)
	return g
}

var federalPlugin struct {
	sync.Once
	catalog *rulehost.Catalog
}

// federal is the law of the federal plugin on a day, compiled and loaded once.
func federal(t *testing.T, on civil.Date) *rules.Governing {
	t.Helper()
	federalPlugin.Do(func() {
		dir := t.TempDir()
		build := exec.CommandContext(t.Context(), "go", "build", "-o", filepath.Join(dir, "federal"), "./plugins/federal")
		build.Dir = filepath.Join("..", "..")
		build.Env = append(os.Environ(), "CGO_ENABLED=0") // confined, it loads no library
		out, err := build.CombinedOutput()
		require.NoError(t, err, "%s", out)
		host := rulehost.New(rulehost.Config{StartTimeout: time.Minute, CompileTimeout: time.Minute, Unsigned: []string{"all"}, Unconfined: []string{"all"}})
		require.NoError(t, host.Load(t.Context(), dir))
		require.Empty(t, host.Catalog().NotLoaded)
		federalPlugin.catalog = host.Catalog()
	})
	require.NotNil(t, federalPlugin.catalog, "the federal plugin did not load; an earlier test says why")
	g := federalPlugin.catalog.Govern("us", on)
	require.Empty(t, g.Gaps)
	return g
}

func entryHours(in *input, c rules.ToxicityCategory, label int) int {
	f := *shipped(in.t).Formulation("triclopyr-ester-4")
	f.Toxicity, f.EntryHours = c, label
	only := *shipped(in.t)
	only.Formulations = []treatment.Formulation{f}
	_, e := planned(in, &only, federal(in.t, summer), standing(3, 20))
	require.NotNil(in.t, e.Choice)
	require.Equal(in.t, rules.BasalBark, e.Choice.Method)
	return e.Choice.EntryHours
}

// exclusionZone asks for every method that may use the equipment: the zone depends
// on the equipment alone.
func exclusionZone(in *input) answer {
	t := rules.Treatment{
		Equipment: vocabulary[rules.Equipment](in, "equipment"), Droplet: vocabulary[rules.Droplet](in, "droplet"), ReleaseHeight: in.length("release_height"),
		Active: "glyphosate", Formulation: rules.WaterSalt, Toxicity: rules.CategoryIII, RestrictedUse: rules.GeneralUse, LandUse: rules.Forest, Standing: rules.Certified,
	}
	byMethod := []rules.Method{rules.LowVolumeFoliar, rules.HighVolumeFoliar}
	if t.Equipment == rules.HandTool {
		byMethod = []rules.Method{rules.HackAndSquirt, rules.CutStump}
	}
	var radii []quantity.Micrometres
	for _, t.Method = range byMethod {
		radii = append(radii, zonesOf(in, t)...)
	}
	require.NotEmpty(in.t, radii)
	assert.Equal(in.t, slices.Min(radii), slices.Max(radii))
	return number(slices.Max(radii).Feet())
}

func zonesOf(in *input, t rules.Treatment) []quantity.Micrometres {
	var radii []quantity.Micrometres
	for _, f := range federal(in.t, summer).Narrow(t).Explain(&rules.Surroundings{Form: rules.RootSucker}) {
		if zone, is := f.Row.Effect.(rules.ExclusionZone); is {
			require.True(in.t, f.Certain)
			radii = append(radii, zone.Radius)
		}
	}
	require.NotEmpty(in.t, radii, "the plugin has no row for %s by %s", t.Equipment, t.Method)
	return radii
}

// privateRecord is the record that a private applicator kept while the rule held.
func privateRecord(in *input) rules.Record {
	record, inForce := recordOn(in, civil.Of(2025, time.July, 1))
	require.True(in.t, inForce)
	return record
}

func recordOn(in *input, on civil.Date) (rules.Record, bool) {
	t := rules.Treatment{Method: rules.LowVolumeFoliar, RestrictedUse: rules.RestrictedUseProduct, Standing: rules.Certified}
	for _, f := range federal(in.t, on).Narrow(t).Explain(&rules.Surroundings{Form: rules.RootSucker}) {
		if f.Row.ID == "record-private-restricted-use" {
			return f.Row.Effect.(rules.Record), true
		}
	}
	return rules.Record{}, false
}
