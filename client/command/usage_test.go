package command_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/clienttest"
)

func TestAWrongCommandLineExitsWith2AndSaysWhatIsWrong(t *testing.T) {
	stem := []string{"--species", "Ailanthus altissima", "--form", "tree"}
	with := func(head []string, more ...string) []string { return append(append(head, stem...), more...) }
	for name, c := range map[string]struct {
		args []string
		want string
	}{
		"no command":                {nil, "expected one of"},
		"unknown command":           {[]string{"treat"}, "unexpected argument treat"},
		"no date":                   {[]string{"prescribe", demo}, "missing flags: --date"},
		"date that is none":         {[]string{"prescribe", demo, "--date", "2031-02-30"}, `"2031-02-30" is not a day of the calendar`},
		"empty date":                {[]string{"prescribe", demo, "--date", ""}, "--date is empty"},
		"no file":                   {[]string{"prescribe", "--date", "2031-08-10"}, "expected \"<file>\""},
		"unknown standing":          {[]string{"prescribe", demo, "--date", "2031-08-10", "--standing", "trained"}, "unlicensed, supervised, certified"},
		"unknown units":             {[]string{"prescribe", demo, "--date", "2031-08-10", "--units", "imperial"}, "us or metric"},
		"rules of another's server": {[]string{"rules", "list", "--server", "unix:/nowhere", "--rules", "."}, "--rules"},
		"address":                   {[]string{"rules", "list", "--server", "nowhere"}, "neither unix:PATH nor HOST:PORT"},
		"amount":                    {[]string{"prescribe", demo, "--date", "2031-08-10", "--applied-ae-g", "mill-meadow=3"}, "is not SITE:ACTIVE=GRAMS"},
		"negative amount":           {[]string{"prescribe", demo, "--date", "2031-08-10", "--applied-ae-g", "mill-meadow:triclopyr=-3"}, "not a number of zero or more"},
		"a column that is none":     {[]string{"prescribe", demo, "--date", "2031-08-10", "--out-csv", "x", "--columns", "outcome,methot"}, `--columns: there is no column "methot"; is it method?`},
		"columns without outcome":   {[]string{"prescribe", demo, "--date", "2031-08-10", "--out-csv", "x", "--columns", "mix_ml"}, "the column outcome is not among the chosen ones; add it"},
		"columns of nothing":        {[]string{"prescribe", demo, "--date", "2031-08-10", "--columns", "outcome"}, "name one of these files"},
		"columns and explanations":  {[]string{"prescribe", demo, "--date", "2031-08-10", "--columns", "outcome", "--out-csv", "x", "--out-explanations", "y"}, "leave one of them out"},
		"one file for two results":  {[]string{"prescribe", demo, "--date", "2031-08-10", "--out-csv", "x", "--sheet", "x"}, "named for two results"},
		"no row":                    {[]string{"explain", demo, "--date", "2031-08-10"}, "--row or by --id"},
		"two rows":                  {[]string{"explain", demo, "--date", "2031-08-10", "--row", "1", "--id", "a"}, "--row and --id"},
		"two diameters":             {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--dbh-in", "4", "--girth-cm", "30"), "--dbh-in and --girth-cm"},
		"unknown method":            {with([]string{"dose", "--method", "girdling", "--formulation", "f"}), "hack_and_squirt"},
		"unknown water":             {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--water-ft", "sea=3"), `"sea" is not one of`},
		"distance without a number": {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--water-m", "lake=near"), "not a number of zero or more"},
		"unknown origin":            {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--water-m", "lake=3:shore"), "bank_top"},
		"unknown state of water":    {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--water-m", "lake=3:bank_top:frozen"), "nor of wet, dry"},
		"two origins":               {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--water-m", "lake=3:bank_top:water_edge"), "one word too many"},
		"two states":                {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--water-m", "lake=3:dry:wet"), "is not one of water_edge"},
		"unknown place":             {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--distance-ft", "church=3"), `"church" is not one of school`},
		"place without a distance":  {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--distance-m", "school"), "is not CLASS=N"},
		"place not near":            {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--distance-m", "school=-1"), "not a number of zero or more"},
		"two distances of others":   {with([]string{"dose", "--method", "cut_stump", "--formulation", "f"}, "--other-places-beyond-m", "4", "--other-places-beyond-ft", "30"), "--other-places-beyond-ft and --other-places-beyond-m"},
		"unknown category":          {[]string{"prescribe", demo, "--date", "2031-08-10", "--category", "trees"}, "right_of_way"},
		"unknown drift control":     {[]string{"prescribe", demo, "--date", "2031-08-10", "--drift-control", "none"}, "standard, approved"},
		"reduction of no site":      {[]string{"prescribe", demo, "--date", "2031-08-10", "--granted", "kinds/well"}, "is not SITE=SET/RULE"},
		"reduction of no rule":      {[]string{"prescribe", demo, "--date", "2031-08-10", "--granted", "mill-meadow=well"}, "is not SITE=SET/RULE"},
		"stems to weigh":            {[]string{"calibrate", "weigh", "--before-g", "2", "--after-g", "1", "--density-g-per-ml", "1", "--stems-in", "4"}, "as 4x15x12"},
	} {
		t.Run(name, func(t *testing.T) {
			got := direct(t, c.args...)
			assert.Equal(t, 2, got.code)
			assert.Empty(t, got.stdout)
			contains(t, got.stderr, c.want, "See rootward --help")
		})
	}
	assert.NoFileExists(t, "x")
}

func TestHelpIsNoFailure(t *testing.T) {
	for _, args := range [][]string{{"--help"}, {"prescribe", "--help"}, {"select", "--help"}, {"rules", "explain", "--help"}, {"rules", "compare", "--help"}} {
		got := direct(t, args...)
		assert.Zero(t, got.code)
		assert.Empty(t, got.stderr)
		assert.NotEmpty(t, got.stdout)
	}
	contains(t, direct(t, "prescribe", "--help").stdout, "Nothing is taken from the clock.")
}

func TestWhatNeedsNoServer(t *testing.T) {
	got := direct(t, "version")
	assert.Zero(t, got.code)
	contains(t, got.stdout, "rootward.treatment.v1")
	got = direct(t, "columns")
	assert.Zero(t, got.code)
	contains(t, got.stdout, "occurrenceID (required)", "dbh_in")
}

func TestFailuresExitWith1AndLeaveFilesAlone(t *testing.T) {
	folder := t.TempDir()
	own := filepath.Join(folder, "inventory.csv")
	require.NoError(t, os.WriteFile(own, []byte(clienttest.Inventory), 0o600))
	old := filepath.Join(folder, "old.csv")
	require.NoError(t, os.WriteFile(old, []byte("old"), 0o600))
	for name, c := range map[string]struct {
		args []string
		want string
	}{
		"no such inventory":    {[]string{"prescribe", filepath.Join(folder, "none.csv"), "--date", "2031-08-10", "--out-csv", old}, "no such file"},
		"no such row":          {[]string{"explain", own, "--row", "99", "--date", "2031-08-10"}, "has no row 99"},
		"no such id":           {[]string{"explain", own, "--id", "z", "--date", "2031-08-10"}, `has no row with id "z"`},
		"result over the file": {[]string{"prescribe", own, "--date", "2031-08-10", "--out-csv", filepath.Join(folder, ".", "inventory.csv")}, "is the inventory itself"},
		"result over a folder": {[]string{"prescribe", own, "--date", "2031-08-10", "--out-csv", folder}, "is not a file"},
		"no folder for it":     {[]string{"prescribe", own, "--date", "2031-08-10", "--out-csv", filepath.Join(folder, "none", "x.csv")}, "no such file"},
		"no server there":      {[]string{"prescribe", own, "--date", "2031-08-10", "--out-csv", old, "--server", "unix:" + filepath.Join(folder, "none")}, "Is the server running"},
	} {
		t.Run(name, func(t *testing.T) {
			got := direct(t, c.args...)
			assert.Equal(t, 1, got.code)
			contains(t, got.stderr, c.want)
		})
	}
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, left, 2)
	content, err := os.ReadFile(old)
	require.NoError(t, err)
	assert.Equal(t, "old", string(content))
}
