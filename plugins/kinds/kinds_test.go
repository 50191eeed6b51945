package main

import (
	"slices"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/ruletest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTable(t *testing.T)  { ruletest.Check(t, table) }
func TestBinary(t *testing.T) { ruletest.CheckBinary(t, ".") }

// kinds are those of the list of kinds of rule by jurisdiction, in its order, with the
// rows that show them.
var kinds = []struct {
	name string
	rows []string
}{
	{"water buffer", []string{"water-broadcast", "water-ditch", "water-aerial"}},
	{"buffer reduction with recorded reason", []string{"well-reducible"}},
	{"well or intake", []string{"intake-by-category"}},
	{"school or childcare edge", []string{"school-hours", "school-air-blast"}},
	{"notice before", []string{"notice-neighbours"}},
	{"posting", []string{"signs"}},
	{"banned and allowed classes", []string{"class-banned", "class-certified"}},
	{"plan required first", []string{"plan-first"}},
	{"mixing and loading", []string{"mix-and-load"}},
	{"annual caps", []string{"cap-grazed", "use-threshold"}},
	{"dated validity", []string{"restricted-record", "restricted-record-2025"}},
	{"method whitelist", []string{"strip-by-method"}},
	{"weather law", []string{"wind-in-season", "no-inversion"}},
	{"ecological", []string{"nesting", "species-bulletin", "organic-register", "after-bees", "burn-ban"}},
	{"record content", []string{"wind-recorded"}},
	{"people", []string{"foresters"}},
}

func TestEachKindHasItsRows(t *testing.T) {
	require.Len(t, kinds, 16)
	var named, present []string
	for _, k := range kinds {
		assert.NotEmpty(t, k.rows, k.name)
		named = append(named, k.rows...)
	}
	for _, r := range table().Rows {
		present = append(present, r.ID)
	}
	assert.ElementsMatch(t, present, named, "each row shows one kind")
}

func rowByID(t *testing.T, id string) rules.Row {
	t.Helper()
	all := table().Rows
	i := slices.IndexFunc(all, func(r rules.Row) bool { return r.ID == id })
	require.GreaterOrEqual(t, i, 0, id)
	return all[i]
}

func effectOf[E rules.Effect](t *testing.T, id string) E {
	t.Helper()
	e, ok := rowByID(t, id).Effect.(E)
	require.True(t, ok, "%s is of kind %T", id, e)
	return e
}

// A foot is 304,800 µm, an inch 25,400 µm; an acre 4,046.8564224 m² (U08).
func TestLimitsAreThoseOfTheirSources(t *testing.T) {
	notice := effectOf[rules.Notice](t, "notice-neighbours")
	signs := effectOf[rules.Posting](t, "signs")
	wind := effectOf[rules.WeatherLimit](t, "wind-in-season")
	record := effectOf[rules.Record](t, "wind-recorded")
	old, current := rowByID(t, "restricted-record"), rowByID(t, "restricted-record-2025")
	for _, c := range []struct {
		source string
		want   any
		got    any
	}{
		{"L36, S16: 25 ft", int64(7_620_000), int64(effectOf[rules.Buffer](t, "water-broadcast").Distance)},
		{"section E (Quebec), S19: 3 m", int64(3_000_000), int64(effectOf[rules.Buffer](t, "water-ditch").Distance)},
		{"L44, S19: from the top of the bank", rules.BankTop, effectOf[rules.Buffer](t, "water-ditch").From},
		{"L32, S15: 60 ft", int64(18_288_000), int64(effectOf[rules.Buffer](t, "water-aerial").Distance)},
		{"L33, S15: more than a quarter acre, 1,011.7141056 m²", rules.Above(rules.LakeArea, 1_011_714_106), rowByID(t, "water-aerial").When.Ranges[0]},
		{"L42, S18: 30 m", int64(30_000_000), int64(effectOf[rules.Buffer](t, "well-reducible").Distance)},
		{"section E (Quebec), S19: 100 m", int64(100_000_000), int64(effectOf[rules.Buffer](t, "intake-by-category").Distance)},
		{"section E (Maine), S16: 50 ft", int64(15_240_000), int64(effectOf[rules.Buffer](t, "mix-and-load").Distance)},
		{"section E (Quebec), S19: 3 m", int64(3_000_000), int64(effectOf[rules.Setback](t, "school-hours").Distance)},
		{"section E (Quebec), S19: 30 m for air-blast", int64(30_000_000), int64(effectOf[rules.Setback](t, "school-air-blast").Distance)},
		{"L40, S17: 48 hours", 2, notice.MinDays},
		{"L39, S16: letters at most 60 days", 60, notice.MaxDays},
		{"L40, S17: 150 ft", int64(45_720_000), int64(notice.Within)},
		{"L40, S17: rain dates", 2, notice.RainDates},
		{"L41, S17: less than 9 ft², 0.83612736 m²", rules.Below(rules.TreatedArea, 836_127), rowByID(t, "notice-neighbours").Unless[2].Ranges[0]},
		{"L47, S19: 20 m", int64(20_000_000), int64(signs.Every)},
		{"L17, S07: 14 in", int64(355_600), int64(signs.Width)},
		{"L17, S07: 16 in", int64(406_400), int64(signs.Height)},
		{"L16, S07: 24 hours before", 24, signs.EarliestHours},
		{"L21, S05", []string{"picloram"}, rowByID(t, "class-banned").When.Actives},
		{"section E (Massachusetts): 5 years", 5, effectOf[rules.Permit](t, "plan-first").ValidYears},
		{"section B (grazed), from memory: 2 lb", 2.0, effectOf[rules.Cap](t, "cap-grazed").Rate.PoundsPerAcre()},
		{"L27, S13: 6,400 acres, 25,899,881.10336 m²", int64(25_899_881_103_360), int64(effectOf[rules.UseThreshold](t, "use-threshold").Area)},
		{"L55, L58, S70: 10 miles per hour", 10.0, wind.Max},
		{"L55, S70: as a sustained mean", rules.SustainedMean, wind.Statistic},
		{"L55, S70: the rest of 16 April to 31 October", "1 November to 15 April", rowByID(t, "wind-in-season").During.String()},
		{"L54, S23: 1 January to 1 July", 181, effectOf[rules.Lookup](t, "species-bulletin").MaxDays},
		{"L49, S20: 48 hours", 48, record.WithinHours},
		{"L49, S20: 3 years", 3, record.KeepYears},
		{"L26, S10: the last day", "2025-07-10", old.ValidTo.String()},
		{"L26, S10: the day after", "2025-07-11", current.ValidFrom.String()},
		{"L23, S09: 14 days", 14, effectOf[rules.Record](t, old.ID).WithinDays},
		{"L24, S09: 2 years", 2, effectOf[rules.Record](t, old.ID).KeepYears},
		{"trap 2: 2 years", 2, effectOf[rules.Record](t, current.ID).KeepYears},
	} {
		assert.Equal(t, c.want, c.got, c.source)
	}
	assert.Equal(t, []string{old.ID}, current.Supersedes)
}

// L46, S19: injection, basal, cut stump and foliage from a backpack; what this program
// knows no word for, paint and the shielded boom, is not among them.
func TestTheWhitelistIsThatOfItsSource(t *testing.T) {
	var listed rules.OneOf[rules.Method]
	for _, e := range rowByID(t, "strip-by-method").Unless {
		listed |= e.Methods
		assert.Equal(t, e.Methods.Has(rules.LowVolumeFoliar), e.Equipment == rules.AnyOf(rules.Backpack))
	}
	assert.Equal(t, rules.AnyOf(rules.BasalBark, rules.HackAndSquirt, rules.CutStump, rules.LowVolumeFoliar), listed)
}
