package inventory_test

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/client/inventory"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules/quantity"
)

func micrometres(cm *float64) any { return int64(quantity.Centimetres(*cm)) }

func TestColumnsOfCSV(t *testing.T) {
	type record = inventory.Record
	// An inch is 25.4 mm, a foot 304.8 mm, an acre 4046.8564224 m² (NIST Handbook 44, Appendix C).
	cases := []struct {
		column, value string
		get           func(*record) any
		want          any
	}{
		{"dbh_in", "6", func(r *record) any { return micrometres(r.Stem.DiameterCm) }, int64(152_400)},
		{"dbh_cm", "15.24", func(r *record) any { return micrometres(r.Stem.DiameterCm) }, int64(152_400)},
		{"dbh_in", "6", func(r *record) any { return r.Stem.RootCollar }, false},
		{"dbh_cm", "500", func(r *record) any { return *r.Stem.DiameterCm }, 500.0},
		{"dbh_in", " 6.0 ", func(r *record) any { return *r.Stem.DiameterCm }, 15.24},
		{"dbh_in", ".5", func(r *record) any { return *r.Stem.DiameterCm }, 1.27},
		// 10 in of girth are 254,000 µm / pi = 80,850.7 µm (arithmetic).
		{"girth_in", "10", func(r *record) any { return micrometres(r.Stem.DiameterCm) }, int64(80_851)},
		{"girth_cm", "25.4", func(r *record) any { return micrometres(r.Stem.DiameterCm) }, int64(80_851)},
		{"root_collar_in", "0.5", func(r *record) any { return *r.Stem.DiameterCm }, 1.27},
		{"root_collar_cm", "1.27", func(r *record) any { return r.Stem.RootCollar }, true},
		{"height_ft", "10", func(r *record) any { return *r.Stem.HeightM }, 3.048},
		{"height_m", "3.048", func(r *record) any { return *r.Stem.HeightM }, 3.048},
		{"crown_width_ft", "20", func(r *record) any { return *r.Stem.CrownWidthM }, 6.096},
		{"crown_width_m", "6.1", func(r *record) any { return *r.Stem.CrownWidthM }, 6.1},
		{"individualCount", "12", func(r *record) any { return *r.Stem.Count }, int64(12)},
		// 100 stems an acre are 247.1 a hectare, which is rounded up; 100 a hectare are 100.
		{"stem_density_per_ac", "100", func(r *record) any { return *r.Stem.StemDensityPerHa }, 248.0},
		{"stem_density_per_ha", "100", func(r *record) any { return *r.Stem.StemDensityPerHa }, 100.0},
		{"stem_density_per_ha", "0.2", func(r *record) any { return *r.Stem.StemDensityPerHa }, 1.0},
		{"infested_area_ac", "1", func(r *record) any { return *r.Stem.AreaM2 }, 4046.856422},
		{"infested_area_ha", "0.25", func(r *record) any { return *r.Stem.AreaM2 }, 2500.0},
		{"infested_area_m2", "12.5", func(r *record) any { return *r.Stem.AreaM2 }, 12.5},
		{"infested_area_ft2", "100", func(r *record) any { return *r.Stem.AreaM2 }, 9.290304},
		{"larger_count", "0", func(r *record) any { return *r.Stem.LargerCount }, int64(0)},
		{"larger_dbh_in", "4", func(r *record) any { return *r.Stem.LargerDiameterCm }, 10.16},
		{"larger_dbh_cm", "10.16", func(r *record) any { return *r.Stem.LargerDiameterCm }, 10.16},
		{"desirable_vegetation", "spray_reach", func(r *record) any { return r.Stem.Desirable }, commonv1.Desirable_DESIRABLE_SPRAY_REACH},
		{"land_use", "right_of_way", func(r *record) any { return r.Stem.LandUse }, commonv1.LandUse_LAND_USE_RIGHT_OF_WAY},
		{"soil_state", "moist", func(r *record) any { return r.Stem.Soil }, commonv1.SoilState_SOIL_STATE_MOIST},
		{"bark_state", "frozen", func(r *record) any { return r.Stem.Bark }, commonv1.BarkState_BARK_STATE_FROZEN},
		{"root_check", "lateral_root", func(r *record) any { return r.Stem.RootCheck }, commonv1.RootCheck_ROOT_CHECK_LATERAL_ROOT},
		{"seed_bearing", "no", func(r *record) any { return r.Stem.SeedBearing }, commonv1.YesNo_YES_NO_NO},
		{"slope_percent", "12.3", func(r *record) any { return *r.Stem.SlopePercent }, 12.3},
		{"slope_percent", "12.31", func(r *record) any { return *r.Stem.SlopePercent }, 12.4},
		{"slope_percent", "0", func(r *record) any { return *r.Stem.SlopePercent }, 0.0},
		{"distance_well_ft", "50", func(r *record) any { return r.Stem.WaterDistances[0].DistanceM }, 15.24},
		{"distance_well_m", "15.2400009", func(r *record) any { return r.Stem.WaterDistances[0].DistanceM }, 15.24},
		{"distance_lake_ft", "0", func(r *record) any { return r.Stem.WaterDistances[0].WaterClass }, commonv1.WaterClass_WATER_CLASS_LAKE},
		{"other_water_beyond_ft", "500", func(r *record) any { return *r.Stem.OtherWaterBeyondM }, 152.4},
		{"other_water_beyond_m", "0", func(r *record) any { return *r.Stem.OtherWaterBeyondM }, 0.0},
		{"distance_school_ft", "100", func(r *record) any { return r.Stem.PlaceDistances[0].DistanceM }, 30.48},
		{"distance_dwelling_m", "0", func(r *record) any { return r.Stem.PlaceDistances[0].PlaceClass }, commonv1.PlaceClass_PLACE_CLASS_DWELLING},
		{"distance_listed_species_area_m", "7.0000009", func(r *record) any { return r.Stem.PlaceDistances[0].DistanceM }, 7.0},
		{"distance_intake_category_2_m", "3", func(r *record) any { return r.Stem.WaterDistances[0].WaterClass }, commonv1.WaterClass_WATER_CLASS_INTAKE_CATEGORY_2},
		{"other_places_beyond_ft", "500", func(r *record) any { return *r.Stem.OtherPlacesBeyondM }, 152.4},
		{"other_places_beyond_m", "0", func(r *record) any { return *r.Stem.OtherPlacesBeyondM }, 0.0},
		{"site_area_ac", "2", func(r *record) any { return *r.SiteAreaM2 }, 8093.712845},
		{"site_area_ha", "2", func(r *record) any { return *r.SiteAreaM2 }, 20_000.0},
		{"site_area_m2", "2", func(r *record) any { return *r.SiteAreaM2 }, 2.0},
		{"coordinateUncertaintyInMeters", "5", func(r *record) any { return *r.Uncertainty }, 5.0},
		{"eventDate", "2026-06-01", func(r *record) any { return r.Surveyed.String() }, "2026-06-01"},
		{"occurrenceRemarks", `"by the gate, ""north"""`, func(r *record) any { return r.Remarks }, `by the gate, "north"`},
		{"occurrenceStatus", "present", func(r *record) any { return r.Stem.StemId }, "a1"},
		{"degreeOfEstablishment", "widespreadInvasive", func(r *record) any { return r.Stem.ScientificName }, "Ailanthus altissima"},
		{"recordedBy", "somebody", func(r *record) any { return r.SiteID }, "s1"},
		{"x_inches", "6 in", func(r *record) any { return r.Place }, "us/velmora"},
		{"x_form", "tree", func(r *record) any { return r.Stem.Form }, commonv1.GrowthForm_GROWTH_FORM_TREE},
	}
	for _, c := range cases {
		t.Run(c.column+"="+c.value, func(t *testing.T) {
			rec := rowOf(t, c.column, c.value)
			require.Empty(t, rec.Faults)
			assert.Equal(t, c.want, c.get(rec))
		})
	}
}

func TestAbsentValuesStayAbsent(t *testing.T) {
	rec := rowOf(t, "dbh_in,height_m,slope_percent,distance_well_ft,decimalLatitude,soil_state,distance_school_m,other_places_beyond_m,ditch_state", ",, ,,,,, ,")
	require.Empty(t, rec.Faults)
	assert.Nil(t, rec.Stem.DiameterCm)
	assert.Nil(t, rec.Stem.HeightM)
	assert.Nil(t, rec.Stem.SlopePercent)
	assert.Empty(t, rec.Stem.WaterDistances)
	assert.Empty(t, rec.Stem.PlaceDistances)
	assert.Nil(t, rec.Stem.OtherPlacesBeyondM)
	assert.Nil(t, rec.Lat)
	assert.Nil(t, rec.Geometry())
	assert.Equal(t, commonv1.SoilState_SOIL_STATE_UNSPECIFIED, rec.Stem.Soil)
}

func TestDistanceWithOrigin(t *testing.T) {
	rec := rowOf(t, "distance_wetland_from,distance_ditch_m,distance_wetland_ft", "wetland_boundary,7,100")
	require.Empty(t, rec.Faults)
	require.Len(t, rec.Stem.WaterDistances, 2)
	ditch, wetland := rec.Stem.WaterDistances[0], rec.Stem.WaterDistances[1]
	assert.Equal(t, commonv1.WaterClass_WATER_CLASS_DITCH, ditch.WaterClass)
	assert.Equal(t, commonv1.DistanceOrigin_DISTANCE_ORIGIN_UNSPECIFIED, ditch.Origin)
	assert.Equal(t, 30.48, wetland.DistanceM)
	assert.Equal(t, commonv1.DistanceOrigin_DISTANCE_ORIGIN_WETLAND_BOUNDARY, wetland.Origin)
}

func TestStateOfWater(t *testing.T) {
	rec := rowOf(t, "ditch_state,distance_ditch_m,distance_lake_m,lake_state", "dry,7,3,wet")
	require.Empty(t, rec.Faults)
	assert.Equal(t, commonv1.WaterState_WATER_STATE_DRY, rec.Stem.WaterDistances[0].State)
	assert.Equal(t, commonv1.WaterState_WATER_STATE_WET, rec.Stem.WaterDistances[1].State)

	rec = rowOf(t, "ditch_state,distance_lake_m", "dry,3")
	require.Len(t, rec.Faults, 1)
	assert.Equal(t, `line 2, column ditch_state, "dry": is said of water whose distance the row does not give; state distance_ditch_ft or distance_ditch_m`, rec.Faults[0].String())
}

func TestWrongDistancesToPlaces(t *testing.T) {
	rec := rowOf(t, "distance_school_ft,distance_school_m,distance_apiary_m,other_places_beyond_ft,lake_state", "1,1,-1,far,damp")
	assert.Equal(t, strings.Join([]string{
		`line 2, column distance_school_m, "1": the row gives distance_school_ft too; keep one of the two`,
		`line 2, column distance_apiary_m, "-1": is below 0; correct it, or leave the field empty where it is not known`,
		`line 2, column other_places_beyond_ft, "far": is not a number; write a plain decimal number such as 12.5, or leave the field empty where it is not known`,
		`line 2, column lake_state, "damp": is not one of wet, dry`, "",
	}, "\n"), faultsOf([]*inventory.Record{rec}))
	assert.Empty(t, rec.Stem.PlaceDistances[1:], "what is wrong is not known")
}

func TestPositionOfCSV(t *testing.T) {
	rec := rowOf(t, "decimalLatitude,decimalLongitude", "43.0046,-38.01")
	require.Empty(t, rec.Faults)
	assert.JSONEq(t, `{"type":"Point","coordinates":[-38.01,43.0046]}`, string(rec.Geometry()))
}

// The faults of a whole bad file, each kind at least once.
func TestFaultsOfCSV(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("testdata", "faults.csv"))
	require.NoError(t, err)
	list := readCSV(t, string(text))
	golden(t, "faults.csv.golden", faultsOf(list))
	for i, rec := range list {
		assert.Equal(t, int64(i+1), rec.Number)
		assert.Equal(t, strings.Contains(rec.Remarks, "good"), !rec.Rejected(), "row %d, line %d", rec.Number, rec.Line)
	}
}

func TestFaultKeepsTheRest(t *testing.T) {
	rec := rowOf(t, "dbh_in,height_ft,land_use", "6 in,30,forest")
	require.Len(t, rec.Faults, 1)
	assert.True(t, rec.Rejected())
	fault := rec.Faults[0]
	assert.Equal(t, []any{2, "dbh_in", "6 in"}, []any{fault.Line, fault.Column, fault.Value})
	assert.Contains(t, fault.Problem, "write the number alone")
	assert.Nil(t, rec.Stem.DiameterCm)
	assert.InDelta(t, 9.144, *rec.Stem.HeightM, 1e-12)
	assert.Equal(t, "a1", rec.Stem.StemId)
}

func TestRefusedHeaders(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"no text", "", "line 1: the file is empty"},
		{"no header", "\n\n", "the file is empty"},
		{"unit missing", header + ",dbh", "line 1, column dbh: does not say its unit, and none is assumed; name it dbh_in or dbh_cm"},
		{"unit of an area missing", header + ",infested_area", "name it infested_area_ac or infested_area_ha or infested_area_m2 or infested_area_ft2"},
		{"unit of a density missing", header + ",stem_density", "name it stem_density_per_ac or stem_density_per_ha"},
		{"unit of a distance missing", header + ",distance_well", "name it distance_well_ft or distance_well_m"},
		{"unit of the slope missing", header + ",slope", "name it slope_percent"},
		{"misspelt", header + ",heigth_ft", "column heigth_ft: is not a column of an inventory; height_ft is the nearest"},
		{"other case", header + ",DBH_in", "dbh_in is the nearest"},
		{"no header, but data", "t-1,Ailanthus altissima,north,us/velmora,tree,3,2\n", "line 1: the first line names no column of an inventory; if it is a row of data"},
		{"old line ends", header + "\r" + good + "\r", "line 1: the lines end in CR alone"},
		{"old line ends after quotes", `"` + strings.ReplaceAll(header, ",", `","`) + "\"\r" + good + "\r", "line 1: the lines end in CR alone"},
		{"old line ends, and quotes below", header + ",occurrenceRemarks\r" + good + ",5\" wide\r" + good + ",\"by, the gate\"\r", "line 1: the lines end in CR alone"},
		{"old line ends of more than a line holds", header + "\r" + strings.Repeat(good+"\r", 30_000), "line 1: the lines end in CR alone"},
		{"old line end in a name", header + ",\"dbh\rin\"\n", `line 1, column "dbh\rin": is not a column of an inventory; dbh_in is the nearest`},
		{"line end in a name", header + ",\"dbh\r\nin\"\r\n", `line 1, column "dbh\nin": is not a column of an inventory; dbh_in is the nearest`},
		{"unknown", header + ",weather", "begin its name with x_"},
		{"nameless", header + ",,dbh_in", "field 6: the column has no name"},
		{"twice", header + ",dbh_in,dbh_in", "line 1, column dbh_in: field 7 has the name of an earlier column"},
		{"required missing", "occurrenceID,form\n", "column locationID: the column is missing; each row is to state id of the site"},
		{"semicolons", strings.ReplaceAll(header, ",", ";"), "not separated by commas"},
		{"tabs", strings.ReplaceAll(header, ",", "\t"), "not separated by commas"},
		{"open quote", "\"" + header, "the header cannot be read: a quote is opened and not closed"},
		{"bare quote", header + `,db"h`, "line 1: the header cannot be read: at byte"},
		{"after blank lines", "\n\n" + header + ",dbh", "line 3, column dbh"},
		{"UTF-16", "\xFF\xFEo\x00c\x00", "the file is in UTF-16; save it as CSV in UTF-8"},
		{"one endless line", strings.Repeat("a", 2<<20), "the header is longer than 1048576 bytes"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := inventory.NewCSV(strings.NewReader(c.text))
			var refused *inventory.FileError
			require.ErrorAs(t, err, &refused)
			assert.Contains(t, err.Error(), c.want)
		})
	}
}

func TestHeaderFaultsComeAllAtOnce(t *testing.T) {
	_, err := inventory.NewCSV(strings.NewReader("occurrenceID,dbh,wether,occurrenceID,scientificName,locationID,place\n"))
	var refused *inventory.FileError
	require.ErrorAs(t, err, &refused)
	var columns []string
	for _, f := range refused.Faults {
		columns = append(columns, f.Column)
	}
	assert.Equal(t, []string{"dbh", "wether", "occurrenceID", "form"}, columns)
}

func TestByteOrderMarkAndLineEnds(t *testing.T) {
	for name, text := range map[string]string{
		"mark":         "\xEF\xBB\xBF" + header + "\n" + good + "\n",
		"CRLF":         header + "\r\n" + good + "\r\n",
		"no last end":  header + "\n" + good,
		"blank lines":  header + "\n\n" + good + "\n\r\n\n",
		"CR in a name": header + ",\"x_by\rhand\",\"dbh_in\r\"\n" + good + ",,\n",
		"quoted names": `"` + strings.ReplaceAll(header, ",", `","`) + "\"\n" + good + "\n",
	} {
		t.Run(name, func(t *testing.T) {
			list := readCSV(t, text)
			require.Len(t, list, 1)
			assert.Empty(t, list[0].Faults)
			assert.Equal(t, commonv1.GrowthForm_GROWTH_FORM_TREE, list[0].Stem.Form)
		})
	}
}

func TestLineNumbers(t *testing.T) {
	text := header + ",occurrenceRemarks,dbh_in\n" +
		good + ",one,1\n" +
		"\n" +
		good + ",\"two\nthree\",x\n" +
		good + ",four,x\n"
	list := readCSV(t, text)
	require.Len(t, list, 3)
	assert.Equal(t, []int{2, 4, 6}, []int{list[0].Line, list[1].Line, list[2].Line})
	assert.Equal(t, "two\nthree", list[1].Remarks)
	assert.Equal(t, 5, list[1].Faults[0].Line, "the value stands on the record's second line")
	assert.Equal(t, 6, list[2].Faults[0].Line)
}

// A quote that is never closed must not swallow the rows behind it.
func TestReadingGoesOnAfterAnOpenQuote(t *testing.T) {
	rows := strings.Repeat(good+",later\n", 5)
	for name, bad := range map[string]string{
		"to the end of the file": good + ",\"open\n" + rows,
		"to another quote":       good + ",\"open\n" + rows + good + ",\"closed\"\n",
		"bare":                   good + ",5\" wide\n" + rows,
		"beyond a field's limit": good + ",\"open\n" + rows + strings.Repeat(good+",later\n", 2000),
		"beyond a line's limit":  good + ",\"open\n" + rows + good + "," + strings.Repeat("a", 1<<20) + "\n" + rows,
	} {
		t.Run(name, func(t *testing.T) {
			list := readCSV(t, apart(header+",occurrenceRemarks\n"+bad))
			require.Len(t, list, strings.Count(bad, "\n"))
			require.Len(t, list[0].Faults, 1)
			assert.Contains(t, list[0].Faults[0].String(), "line 2: ")
			assert.Contains(t, list[0].Faults[0].Problem, "quote")
			for _, rec := range list[1:6] {
				assert.Empty(t, rec.Faults)
			}
		})
	}
}

func TestLimitsOfLength(t *testing.T) {
	const field, line = 64 << 10, 1 << 20
	cases := []struct{ name, row, want string }{
		{"field at the limit", good + "," + strings.Repeat("a", field), ""},
		{"field above it", good + "," + strings.Repeat("a", field+1), "line 2, column occurrenceRemarks"},
		{"quoted field at the limit", good + ",\"" + strings.Repeat("a\n", field/2) + "\"", ""},
		{"line above the limit", good + "," + strings.Repeat("a", line), "line 2: the line is longer than 1048576 bytes and was not read"},
		{"id too long", strings.Replace(good, "a1", strings.Repeat("a", 201), 1) + ",", "has 201 bytes, at most 200 are taken"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			list := readCSV(t, apart(header+",occurrenceRemarks\n"+c.row+"\n"+good+",next\n"))
			require.Len(t, list, 2)
			if c.want == "" {
				assert.Empty(t, list[0].Faults)
			} else {
				require.Len(t, list[0].Faults, 1)
				assert.Contains(t, list[0].Faults[0].String(), c.want)
				assert.Less(t, len(list[0].Faults[0].String()), 400)
			}
			assert.Empty(t, list[1].Faults)
		})
	}
}

func TestReadErrorNamesTheLine(t *testing.T) {
	broken := errors.New("the disk is gone")
	text := header + "\n" + good + "\n" + good[:10]
	r, err := inventory.NewCSV(io.MultiReader(strings.NewReader(text), iotest.ErrReader(broken)))
	require.NoError(t, err)
	_, err = r.Next()
	require.NoError(t, err)
	_, err = r.Next()
	require.ErrorIs(t, err, broken)
	assert.Contains(t, err.Error(), "line 3: the file cannot be read on: the disk is gone")
	_, again := r.Next()
	assert.Equal(t, err, again)
}

func TestSmallReads(t *testing.T) {
	text := header + ",occurrenceRemarks\r\n" + strings.Repeat(good+",\"a\r\n\"\"b\"\r\n", 50)
	r, err := inventory.NewCSV(iotest.OneByteReader(strings.NewReader(text)))
	require.NoError(t, err)
	assert.Equal(t, readCSV(t, text), collect(t, r))
}
