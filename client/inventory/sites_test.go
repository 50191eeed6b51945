package inventory_test

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"example.org/rootward/client/inventory"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/testdata/many"
)

const siteHeader = "occurrenceID,scientificName,form,locationID,place,site_area_m2,site_area_ac,dbh_in\n"

func siteRow(site, place, m2, acres string) string {
	return "a,Ailanthus altissima,tree," + strings.Join([]string{site, place, m2, acres}, ",") + ",6\n"
}

// write puts an inventory into a file of this name.
func write(t testing.TB, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

func TestSites(t *testing.T) {
	site := func(id, place string, m2 float64) *treatmentv1.Site {
		s := &treatmentv1.Site{SiteId: id, Place: place}
		if m2 > 0 {
			s.AreaM2 = &m2
		}
		return s
	}
	cases := []struct {
		name, rows string
		want       []*treatmentv1.Site
		faults     []string
	}{
		{"none", "", nil, nil},
		{"one, twice", siteRow("n", "us/velmora", "500", "") + siteRow("n", "us/velmora", "500", ""),
			[]*treatmentv1.Site{site("n", "us/velmora", 500)}, nil},
		{"in the order of the file", siteRow("z", "us", "", "") + siteRow("a", "us/velmora", "5", ""),
			[]*treatmentv1.Site{site("z", "us", 0), site("a", "us/velmora", 5)}, nil},
		{"the area comes later", siteRow("n", "us", "", "") + siteRow("n", "us", "7", "") + siteRow("n", "us", "", ""),
			[]*treatmentv1.Site{site("n", "us", 7)}, nil},
		{"the same area in another unit", siteRow("n", "us", "", "1") + siteRow("n", "us", "4046.8564", ""),
			[]*treatmentv1.Site{site("n", "us", 4046.856422)}, nil},
		{"another place", siteRow("n", "us", "7", "") + siteRow("n", "us/velmora", "", "") + siteRow("n", "us", "", ""),
			[]*treatmentv1.Site{site("n", "us", 7)},
			[]string{`line 3, column place, "us/velmora": is not us, the place of site "n" on line 2; a site has one place`}},
		{"another area", siteRow("n", "us", "7", "") + siteRow("n", "us", "", "7"),
			[]*treatmentv1.Site{site("n", "us", 7)},
			[]string{`line 3, column site_area_ac: states 28327.995 square metres, not the 7 of site "n" on line 2; a site has one area`}},
		{"a place that is none says nothing", siteRow("n", "US", "7", "") + siteRow("n", "us", "8", ""),
			[]*treatmentv1.Site{site("n", "us", 8)}, nil},
		{"an area that is none says nothing", siteRow("n", "us", "7 m2", "") + siteRow("n", "us", "8", ""),
			[]*treatmentv1.Site{site("n", "us", 8)}, nil},
		{"a row that is rejected for something else counts", strings.Replace(siteRow("n", "us", "7", ""), "tree", "bush", 1) + siteRow("n", "us", "8", ""),
			[]*treatmentv1.Site{site("n", "us", 7)},
			[]string{`line 3, column site_area_m2: states 8 square metres, not the 7 of site "n" on line 2; a site has one area`}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			path := write(t, "inventory.csv", siteHeader+c.rows)
			got, faults, err := inventory.Sites(path)
			require.NoError(t, err)
			require.Len(t, got, len(c.want))
			for i := range got {
				assert.True(t, proto.Equal(c.want[i], got[i]), "%v, want %v", got[i], c.want[i])
			}
			var texts []string
			for _, f := range faults {
				texts = append(texts, f.String())
			}
			assert.Equal(t, c.faults, texts)
			assert.Subset(t, strings.Split(faultsOf(openAll(t, path)), "\n"), texts, "the second pass rejects the same rows")
		})
	}
}

func TestWhereSitesLie(t *testing.T) {
	const columns = "occurrenceID,scientificName,form,locationID,place,site_latitude_deg,site_longitude_deg,site_elevation_ft,site_elevation_m,dbh_in\n"
	at := func(lat, lon, feet, metres string) string {
		return "a,Ailanthus altissima,tree,n,us," + strings.Join([]string{lat, lon, feet, metres}, ",") + ",6\n"
	}
	known := func(lat, lon, up float64) *treatmentv1.Site {
		return &treatmentv1.Site{SiteId: "n", Place: "us", LatitudeDeg: &lat, LongitudeDeg: &lon, ElevationM: &up}
	}
	place := &treatmentv1.Site{SiteId: "n", Place: "us"}
	cases := []struct {
		name, rows string
		want       *treatmentv1.Site
		faults     []string
	}{
		{"not stated is not known", at("", "", "", ""), place, nil},
		{"on the equator, at sea level", at("0", "0", "", "0"), known(0, 0, 0), nil},
		{"as far as it goes", at("-90", "180", "", "9000"), known(-90, 180, 9000), nil},
		{"in feet", at("41.5", "-79.25", "100", ""), known(41.5, -79.25, 30.48), nil},
		{"stated later", at("", "", "", "") + at("41", "-79", "", "") + at("", "", "", "-500"), known(41, -79, -500), nil},
		{"the same but for rounding", at("41", "-79", "100", "") + at("41.000009", "-79", "", "30.48"), known(41, -79, 30.48), nil},
		{"others", at("41", "-79", "", "12") + at("41.1", "-79.1", "", "13"), known(41, -79, 12), []string{
			`line 3, column site_latitude_deg: states 41.1 degrees of latitude, not the 41 of site "n" on line 2; a site has one`,
			`line 3, column site_longitude_deg: states -79.1 degrees of longitude, not the -79 of site "n" on line 2; a site has one`,
			`line 3, column site_elevation_m: states 13 metres above sea level, not the 12 of site "n" on line 2; a site has one`,
		}},
		{"half a position says nothing", at("41", "", "", "") + at("42", "-79", "", "1"), known(42, -79, 1), nil},
		{"half of it wrong", at("41", "181", "", "") + at("42", "-79", "", "1"), known(42, -79, 1), nil},
		{"out of range", at("-90.1", "0", "", "") + at("", "", "", "9001") + at("", "", "29528", "") + at("NaN", "", "", ""), place, nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			path := write(t, "inventory.csv", columns+c.rows)
			got, faults, err := inventory.Sites(path)
			require.NoError(t, err)
			require.Len(t, got, 1)
			assert.True(t, proto.Equal(c.want, got[0]), "%v, want %v", got[0], c.want)
			var texts []string
			for _, f := range faults {
				texts = append(texts, f.String())
			}
			assert.Equal(t, c.faults, texts)
			assert.Subset(t, strings.Split(faultsOf(openAll(t, path)), "\n"), texts)
		})
	}
	rejected := faultsOf(openAll(t, write(t, "inventory.csv", columns+at("41", "", "", "")+strings.Replace(at("", "", "29528", ""), "a,", "b,", 1))))
	assert.Contains(t, rejected, "line 2, column site_latitude_deg: site_latitude_deg and site_longitude_deg make a position together; give both or none")
	assert.Contains(t, rejected, `line 3, column site_elevation_ft, "29528": is not -1640 to 29527 feet`)
}

func openAll(t testing.TB, path string) []*inventory.Record {
	t.Helper()
	r, err := inventory.Open(path)
	require.NoError(t, err)
	defer r.Close()
	return collect(t, r)
}

func TestSitesOfGeoJSON(t *testing.T) {
	text := collection(
		feature("null", `,"site_area_ha":0.25`),
		strings.Replace(feature("null", ""), "us/velmora", "us/other", 1))
	got, faults, err := inventory.Sites(write(t, "inventory.geojson", text))
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.Equal(t, 2500.0, *got[0].AreaM2)
	require.Len(t, faults, 1)
	assert.Equal(t, "place", faults[0].Column)
}

func TestTooManySites(t *testing.T) {
	var text strings.Builder
	text.WriteString(siteHeader)
	for i := range 100_001 {
		text.WriteString(siteRow(fmt.Sprint("site-", i), "us", "", ""))
	}
	path := write(t, "inventory.csv", text.String())
	_, _, err := inventory.Sites(path)
	var refused *inventory.FileError
	require.ErrorAs(t, err, &refused)
	assert.Contains(t, err.Error(), path+": line 100002, column locationID: names more than 100000 sites")

	r, err := inventory.Open(path)
	require.NoError(t, err)
	defer r.Close()
	for err == nil {
		_, err = r.Next()
	}
	assert.Equal(t, refused.Error(), err.Error())
}

func TestConflictsThatAreListedHaveALimit(t *testing.T) {
	text := siteHeader + siteRow("n", "us", "7", "") + strings.Repeat(siteRow("n", "us/velmora", "", ""), 3000)
	_, faults, err := inventory.Sites(write(t, "inventory.csv", text))
	require.NoError(t, err)
	assert.Len(t, faults, 1000)
}

func TestOpen(t *testing.T) {
	dir := t.TempDir()
	cases := []struct{ name, text, want string }{
		{"inventory.csv", header + "\n" + good + "\n", ""},
		{"INVENTORY.CSV", header + "\n" + good + "\n", ""},
		{"inventory.geojson", collection(point("[-38,43]")), ""},
		{"inventory.json", collection(point("[-38,43]")), ""},
		{"inventory.xlsx", "PK", "name a CSV file .csv, a Parquet file .parquet and a GeoJSON file .geojson or .json"},
		{"inventory", "", "name a CSV file .csv"},
		{"bad.csv", header + ",dbh\n", "line 1, column dbh: does not say its unit"},
		{"bad.json", "[]", "line 1: the file is not a GeoJSON object"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(dir, c.name)
			require.NoError(t, os.WriteFile(path, []byte(c.text), 0o600))
			r, err := inventory.Open(path)
			if c.want == "" {
				require.NoError(t, err)
				assert.Len(t, collect(t, r), 1)
				assert.NoError(t, r.Close())
				return
			}
			var refused *inventory.FileError
			require.ErrorAs(t, err, &refused)
			assert.Equal(t, path, refused.File)
			assert.True(t, strings.HasPrefix(err.Error(), path+": "), err.Error())
			assert.Contains(t, err.Error(), c.want)
		})
	}
	_, err := inventory.Open(filepath.Join(dir, "missing.csv"))
	require.ErrorIs(t, err, os.ErrNotExist)
	assert.Contains(t, err.Error(), "missing.csv: the file cannot be opened: no such file or directory")
	_, _, err = inventory.Sites(filepath.Join(dir, "missing.csv"))
	require.ErrorIs(t, err, os.ErrNotExist)
}

// Most lines are passed over in a first pass; it comes to what reading every row does.
func TestLinesArePassedOverWithoutLoss(t *testing.T) {
	cells := [][]string{
		{"tree", "x\"y", "\"a, b\"", "\"a\nb\"", ""}, {"n", "m", "\"n\"", " n", ""}, {"us", "us/velmora", "US", ""}, {"6", "", "7"}, {"Ailanthus altissima", "x,y"},
	}
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		text := "form,locationID,place,site_area_ac,scientificName,occurrenceID\n"
		for i := range rapid.IntRange(1, 30).Draw(t, "rows") {
			for _, of := range cells {
				cell := of[0]
				if rapid.IntRange(0, 7).Draw(t, "other") == 0 {
					cell = rapid.SampledFrom(of).Draw(t, "cell")
				}
				text += cell + ","
			}
			text += fmt.Sprintf("a-%d%s", i, rapid.SampledFrom([]string{"\n", "\r\n", "\n\n", ",\n"}).Draw(t, "end"))
		}
		path := filepath.Join(dir, "inventory.csv")
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		survey, err := inventory.SurveyOf(path)
		require.NoError(t, err)
		placeOf := map[string]string{}
		for _, s := range survey.Sites {
			placeOf[s.GetSiteId()] = s.GetPlace()
		}
		r, err := inventory.NewCSV(strings.NewReader(text))
		require.NoError(t, err)
		var rows int64
		var conflicts []inventory.Fault
		seen := map[string]bool{}
		for record, err := r.Next(); err == nil; record, err = r.Next() {
			rows++
			for _, f := range record.Faults {
				if strings.Contains(f.Problem, "; a site has one") {
					conflicts = append(conflicts, f)
				}
			}
			if record.SiteID != "" && record.Place != "" {
				seen[record.SiteID] = true
				if !record.Rejected() {
					require.Equal(t, placeOf[record.SiteID], record.Place)
				}
			}
		}
		require.Equal(t, rows, survey.Rows, text)
		require.Equal(t, conflicts, survey.Conflicts, text)
		require.Len(t, placeOf, len(seen))
	})
}

// The sites that come with blocks are those of a first pass over the file, each once and in
// order; that one came with less than the file says of it is told.
func TestSitesOfBlocksAreThoseOfTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "inventory.csv")
	rapid.Check(t, func(t *rapid.T) {
		text := &strings.Builder{}
		text.WriteString("occurrenceID,scientificName,locationID,place,site_area_ac,site_latitude_deg,site_longitude_deg,form,dbh_in\n")
		rows := 0
		row := func(site, area, latitude, longitude, dbh string) {
			rows++
			fmt.Fprintf(text, "s-%d,Ailanthus altissima,%s,us/velmora,%s,%s,%s,tree,%s\n", rows, site, area, latitude, longitude, dbh)
		}
		some := func(label string) {
			for range rapid.IntRange(0, 6).Draw(t, label) {
				area := rapid.SampledFrom([]string{"", "", "40", "50"}).Draw(t, "area")
				at := rapid.SampledFrom([][2]string{{"", ""}, {"", ""}, {"43", "-38"}, {"43.5", "-38"}, {"43", ""}}).Draw(t, "position")
				row(rapid.SampledFrom([]string{"north", "south", "east", ""}).Draw(t, "site"), area, at[0], at[1], rapid.SampledFrom([]string{"4", "thick"}).Draw(t, "diameter"))
			}
		}
		some("first")
		for range rapid.SampledFrom([]int{1, 16_380, 16_384, 33_000}).Draw(t, "between") {
			row("filler", "", "", "", "4")
		}
		some("last")
		require.NoError(t, os.WriteFile(path, []byte(text.String()), 0o600))
		survey, err := inventory.SurveyOf(path)
		require.NoError(t, err)
		r, err := inventory.Open(path)
		require.NoError(t, err)
		defer r.Close()
		block, given, read := &inventory.Block{}, []*treatmentv1.Site{}, 0
		for err = r.Fill(block); err == nil; err = r.Fill(block) {
			given, read = append(given, block.Sites...), read+block.Len()
			require.GreaterOrEqual(t, block.FileRows, int64(read))
		}
		require.ErrorIs(t, err, io.EOF)
		all, late := r.Sites()
		require.Len(t, all, len(survey.Sites))
		require.Len(t, given, len(survey.Sites))
		same := true
		for i, want := range survey.Sites {
			require.True(t, proto.Equal(want, all[i]), "%v, not %v", all[i], want)
			require.Equal(t, want.GetSiteId(), given[i].GetSiteId())
			same = same && proto.Equal(want, given[i])
		}
		require.Equal(t, !same, late)
	})
}

// How many rows a file has is told from the first block on, nearly, and exactly at its end.
func TestRowsOfAFile(t *testing.T) {
	const rows = 100_000
	for ending, write := range map[string]func(io.Writer, uint64, int64) error{
		"csv": many.WriteCSV, "parquet": many.WriteParquet, "geojson": asFeatures,
	} {
		t.Run(ending, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "inventory."+ending)
			f, err := os.Create(path)
			require.NoError(t, err)
			require.NoError(t, write(f, 1, rows))
			require.NoError(t, f.Close())
			r, err := inventory.Open(path)
			require.NoError(t, err)
			defer r.Close()
			block := &inventory.Block{}
			for err = r.Fill(block); err == nil; err = r.Fill(block) {
				require.InEpsilon(t, rows, block.FileRows, 0.02)
			}
			require.ErrorIs(t, err, io.EOF)
			require.EqualValues(t, rows, r.Rows())
		})
	}
	r, err := inventory.NewCSV(strings.NewReader("occurrenceID,scientificName,locationID,place,form\n"))
	require.NoError(t, err)
	assert.Zero(t, r.Rows(), "nobody knows how long the text is")
}

// asFeatures writes points without anything else, in as many features.
func asFeatures(w io.Writer, _ uint64, rows int64) error {
	features := make([]string, rows)
	for i := range features {
		features[i] = fmt.Sprintf(`{"type": "Feature", "geometry": null, "properties": {"occurrenceID": "s-%d", "scientificName": "Ailanthus altissima", "locationID": "north", "place": "us/velmora", "form": "tree"}}`, i)
	}
	_, err := io.WriteString(w, `{"type": "FeatureCollection", "features": [`+strings.Join(features, ",\n")+`]}`)
	return err
}
