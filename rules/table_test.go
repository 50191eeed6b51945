package rules_test

import (
	"flag"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

var update = flag.Bool("update", false, "write golden files anew")

// fullRows is a row of every kind of effect of the first edition, with every part of a
// selector and every field of an effect that it had stated. It stays as it is:
// tables that use nothing newer keep their digests.
func fullRows() []rules.Row {
	selector := rules.Selector{
		Species: []string{"Ailanthus altissima"}, Actives: []string{"triclopyr"},
		Suckering: rules.AnyOf(rules.SuckeringStrong), Forms: rules.AnyOf(rules.Tree), Methods: rules.AnyOf(rules.BasalBark, rules.CutStump),
		Equipment: rules.AnyOf(rules.Backpack), Formulations: rules.AnyOf(rules.Ester), SoilActivity: rules.AnyOf(rules.SoilSome),
		AquaticLabel: rules.AnyOf(rules.AquaticNotRegistered), RestrictedUse: rules.AnyOf(rules.GeneralUse),
		Toxicity: rules.AnyOf(rules.CategoryIII), Droplets: rules.AnyOf(rules.DropletMedium), LandUses: rules.AnyOf(rules.Forest),
		Soil: rules.AnyOf(rules.SoilMoist), Bark: rules.AnyOf(rules.BarkDry), Desirable: rules.AnyOf(rules.DesirableNone),
		Ranges: []rules.Range{{Of: rules.Diameter, Min: 10, Max: 90, MinOpen: true, MaxOpen: true}},
	}
	open := window(time.July, 15, time.October, 15)
	effects := []rules.Effect{
		rules.Prohibit{},
		rules.Buffer{Water: rules.AnyOf(rules.Lake), Distance: quantity.Metre, From: rules.BankTop},
		rules.Window{Open: open},
		rules.InSeason{Season: rules.Translocation, During: open},
		rules.Cap{Active: "triclopyr", Rate: 1_000},
		rules.RequireStanding{AtLeast: rules.Certified},
		rules.Permit{Name: "a permit", From: "the district"},
		rules.Notice{To: "neighbours", MinDays: 3, MaxDays: 60, Within: quantity.Metre, RainDates: 2},
		rules.Posting{Says: "keep out", Every: quantity.Metre, EarliestHours: 24, RemoveWithinDays: 3},
		rules.WeatherLimit{Factor: rules.WindSpeed, Min: 1, Max: 10, HasMin: true, HasMax: true},
		rules.Record{Fields: []string{"date"}, WithinDays: 14, KeepYears: 2},
		rules.EntryInterval{Hours: 12},
		rules.ExclusionZone{Radius: quantity.Metre},
		rules.Warn{Message: "take care"},
	}
	rows := make([]rules.Row, len(effects))
	for i, e := range effects {
		rows[i] = when(strings.ReplaceAll(e.Kind().String(), "_", "-"), selector, e)
		rows[i].ValidTo = civil.Of(2030, time.January, 1)
		if e.Kind() == rules.KindSeason {
			rows[i].When = rules.Selector{Species: []string{"Ailanthus altissima"}}
		}
	}
	return rows
}

// fullTable states everything that a table of the first edition could state. Its case fits no row but
// the season's, in more than one part.
func fullTable() rules.Table {
	t := validTable(fullRows()...)
	t.Manifest.ValidTo, t.Manifest.ReviewBy = civil.Of(2031, time.January, 1), civil.Of(2029, time.January, 1)
	c := rules.Case{
		Name: "another method", On: midsummer, By: []string{"season"},
		Treatment: rules.Treatment{
			Species: "Ailanthus altissima", Suckering: rules.SuckeringNone, Method: rules.LowVolumeFoliar, Equipment: rules.Handgun,
			Active: "glyphosate", Formulation: rules.WaterSalt, SoilActivity: rules.SoilNone, AquaticLabel: rules.AquaticRegistered,
			RestrictedUse: rules.RestrictedUseProduct, Toxicity: rules.CategoryIV, Droplet: rules.DropletFine,
			ReleaseHeight: quantity.Metre, LandUse: rules.Park, Standing: rules.Certified,
		},
		Site: rules.Surroundings{Form: rules.Sapling, Soil: rules.SoilDry, Bark: rules.BarkWet, Desirable: rules.DesirableSprayReach},
	}
	c.Site.Measures.Set(rules.Diameter, 200)
	c.Site.Water.Set(rules.Lake, rules.WaterDistance{Distance: 5, Origin: rules.WaterEdge})
	t.Cases = []rules.Case{c}
	return t
}

func digestOf(t *testing.T, table rules.Table) string {
	t.Helper()
	return mustSet(t, table).Ref.Digest
}

// The digest is pinned: it is the same on every machine and in every run, and
// does not change unless what a table holds does.
func TestDigestIsPinned(t *testing.T) {
	digestIsPinned(t, fullTable, "testdata/digest.golden")
}

func TestDigestOfEverythingIsPinned(t *testing.T) {
	digestIsPinned(t, everyTable, "testdata/digest_every.golden")
}

func digestIsPinned(t *testing.T, table func() rules.Table, golden string) {
	t.Helper()
	got := digestOf(t, table()) + "\n"
	if *update {
		require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "rule sets in use would no longer match their lock; if that is meant, run with -update")
	assert.Regexp(t, `^[0-9a-f]{64}\n$`, got)
	for range 3 {
		assert.Equal(t, got, digestOf(t, table())+"\n")
	}
}

// An absent list and an empty one are the same table: one may come from a file,
// the other over the wire.
func TestDigestTakesEmptyForAbsent(t *testing.T) {
	bare, empty := validTable(), validTable()
	empty.Cases = []rules.Case{}
	empty.Rows[0].When.Species, empty.Rows[0].When.Actives, empty.Rows[0].When.Ranges = []string{}, []string{}, []rules.Range{}
	assert.Equal(t, digestOf(t, bare), digestOf(t, empty))

	empty.Rows[0].Unless, empty.Rows[0].Supersedes = []rules.Selector{}, []string{}
	assert.Equal(t, digestOf(t, bare), digestOf(t, empty))

	bare.Cases = []rules.Case{{Name: "plain", On: midsummer}}
	empty.Cases = []rules.Case{{Name: "plain", On: midsummer, Treatment: rules.Treatment{Granted: []string{}}, By: []string{}}}
	assert.Equal(t, digestOf(t, bare), digestOf(t, empty))
}

// Whichever field of a table one changes, the digest changes.
func TestDigestChangesWithEveryField(t *testing.T) {
	table := everyTable()
	seen := map[string]string{digestOf(t, table): "nothing changed"}
	changed := 0
	note := func(path string) {
		switch {
		case strings.HasPrefix(path, "season.When.") && path != "season.When.Species", strings.HasPrefix(path, "season.During"):
			return // a season is told by species alone
		case slices.Contains(oneOrTheOther, path):
			return
		}
		set, err := rules.NewSet(table)
		require.NoError(t, err, path)
		assert.NotContains(t, seen, set.Ref.Digest, "%s changes nothing", path)
		seen[set.Ref.Digest] = path
		changed++
	}
	vary(reflect.ValueOf(&table.Manifest).Elem(), "manifest", note)
	for i := range table.Rows {
		r := &table.Rows[i]
		id := r.ID
		if id == "season" {
			table.Cases[0].By = nil // the row's name, days and species change
		}
		varyRow(r, id, note)
		table.Cases[0].By = []string{"season"}
	}
	varyCase(&table.Cases[0], note)
	assert.Greater(t, changed, 1_000)
}

func varyRow(r *rules.Row, id string, note func(string)) {
	effect := r.Effect
	r.Effect = nil // an interface is not varied in place
	defer func() { r.Effect = effect }()
	vary(reflect.ValueOf(r).Elem(), id, func(path string) {
		r.Effect = effect
		note(path)
		r.Effect = nil
	})
	copied := reflect.New(reflect.TypeOf(effect)).Elem()
	copied.Set(reflect.ValueOf(effect))
	vary(copied, id+".Effect", func(path string) {
		r.Effect = copied.Interface().(rules.Effect)
		note(path)
		r.Effect = effect
	})
}

func varyCase(c *rules.Case, note func(string)) {
	vary(reflect.ValueOf(&c.Name).Elem(), "case.Name", note)
	vary(reflect.ValueOf(&c.On).Elem(), "case.On", note)
	vary(reflect.ValueOf(&c.Site).Elem(), "case.Site", note)
	// While the species varies the season's row cannot be what decides.
	by := c.By
	c.By = nil
	note("case.By")
	vary(reflect.ValueOf(&c.Treatment).Elem(), "case.Treatment", note)
	c.By = by
	for _, d := range []rules.WaterDistance{{Distance: 6, Origin: rules.WaterEdge}, {Distance: 5, Origin: rules.BankTop}, {Distance: 5, Origin: rules.WaterEdge, AtLeast: true}} {
		c.Site.Water.Set(rules.Lake, d)
		note("case.Site.Water")
	}
	for _, d := range []rules.PlaceDistance{{Distance: 8}, {Distance: 7, AtLeast: true}} {
		c.Site.Places.Set(rules.School, d)
		note("case.Site.Places")
	}
	c.Site.Water.Set(rules.Lake, rules.WaterDistance{Distance: 5, Origin: rules.WaterEdge, State: rules.WaterWet})
	note("case.Site.Water, its state")
	c.Site.Measures.Set(rules.Diameter, 201)
	note("case.Site.Measures")
	c.Site.Measures.Set(rules.Slope, 0)
	note("case.Site.Measures, one more")
}

// vary changes one field after the other, calls note, and changes it back. It
// goes into structs and slices, and leaves unexported fields alone.
func vary(v reflect.Value, path string, note func(string)) {
	old := reflect.New(v.Type()).Elem()
	old.Set(v)
	defer v.Set(old)
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				vary(v.Field(i), path+"."+f.Name, note)
			}
		}
		return
	case reflect.Slice:
		own := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(own, v)
		v.Set(own)
		for i := range v.Len() {
			vary(v.Index(i), path, note)
		}
		return
	case reflect.Interface:
		return
	case reflect.String:
		v.SetString("x" + v.String())
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.Float64:
		v.SetFloat(v.Float() + 1)
	case reflect.Uint8: // a word
		if v.Type() == reflect.TypeOf(rules.Allowed) {
			return // what a case wants follows from the rows
		}
		v.SetUint(v.Uint()%2 + 1)
	case reflect.Uint32: // a set of words
		if v.Uint() == 2 {
			v.SetUint(4)
		} else {
			v.SetUint(2)
		}
	default:
		v.SetInt(v.Int() + 1)
	}
	note(path)
}

// Effects with equal fields are told apart, as are a row in one place and in
// another.
func TestDigestTellsKindsApart(t *testing.T) {
	summer := window(time.June, 1, time.August, 31)
	a := digestOf(t, validTable(row("row", rules.Prohibit{})))
	b := digestOf(t, validTable(row("row", rules.ExclusionZone{})))
	c := digestOf(t, validTable(row("row", rules.Window{Open: summer})))
	d := digestOf(t, validTable(row("row", rules.InSeason{Season: rules.Growing, During: summer})))
	assert.Len(t, slices.Compact(slices.Sorted(slices.Values([]string{a, b, c, d}))), 4)
}

func TestWorkedCases(t *testing.T) {
	ban := when("ban", rules.Selector{Methods: rules.AnyOf(rules.CutStump)}, rules.Prohibit{})
	record := row("record", rules.Record{Fields: []string{"date"}})
	old := when("old-ban", rules.Selector{Methods: rules.AnyOf(rules.BasalBark)}, rules.Prohibit{})
	old.ValidTo = civil.Of(2025, time.July, 10)
	cut, bark := rules.Treatment{Method: rules.CutStump}, rules.Treatment{Method: rules.BasalBark}
	cases := []struct {
		name   string
		worked rules.Case
		faults []string
	}{
		{"as its author expects", rules.Case{On: midsummer, Treatment: cut, Want: rules.Prohibited, By: []string{"ban"}}, nil},
		{"the other method", rules.Case{On: midsummer, Treatment: bark, Want: rules.Conditional, By: []string{"record"}}, nil},
		{"last day of a row", rules.Case{On: old.ValidTo, Treatment: bark, Want: rules.Prohibited, By: []string{"old-ban"}}, nil},
		{"day after a row", rules.Case{On: old.ValidTo + 1, Treatment: bark, Want: rules.Conditional}, nil},
		{"method not known", rules.Case{On: midsummer, Want: rules.Undetermined, By: []string{"ban"}}, nil},
		{"another decision", rules.Case{On: midsummer, Treatment: cut, Want: rules.Allowed}, []string{"gives PROHIBITED, its author expects ALLOWED"}},
		{"decided by another row", rules.Case{On: midsummer, Treatment: cut, Want: rules.Prohibited, By: []string{"record"}}, []string{"row record does not decide it"}},
		{"by a row that is no longer law", rules.Case{On: midsummer, Treatment: bark, Want: rules.Conditional, By: []string{"old-ban"}}, []string{"row old-ban does not decide it"}},
		{"both wrong", rules.Case{On: midsummer, Treatment: bark, Want: rules.Prohibited, By: []string{"ban", "record"}},
			[]string{"gives CONDITIONAL", "row ban does not decide it", "row record does not decide it"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			table := validTable(ban, record, old)
			c.worked.Name = c.name
			table.Cases = []rules.Case{c.worked}
			set, err := rules.NewSet(table)
			if c.faults == nil {
				require.NoError(t, err)
				assert.Equal(t, "nation", set.Ref.ID)
				assert.Equal(t, "1", set.Ref.Version)
				assert.Equal(t, rules.Federal, set.Ref.Layer)
				return
			}
			var faults rules.Faults
			require.ErrorAs(t, err, &faults)
			require.Len(t, faults, len(c.faults))
			for i, f := range faults {
				assert.Equal(t, "case "+c.name, f.Row)
				assert.Contains(t, f.Problem, c.faults[i])
			}
		})
	}
}
