package question

import "fmt"

// FromFile gives the columns of an inventory file as testdata/many writes it, read into
// a table of text, under the names that SQLOfFile asks for. An empty word is empty, and
// an empty number -1.
func FromFile(table string) string {
	number := func(text, unit string, as Column) string {
		return fmt.Sprintf("coalesce(CAST(round(%s * %s) AS BIGINT), -1) AS %s", text, unit, as)
	}
	word := func(text string, as Column) string { return fmt.Sprintf("coalesce(%s, '') AS %s", text, as) }
	origin := func(text string, as Column) string {
		return fmt.Sprintf("CASE %s WHEN 'water_edge' THEN 1 WHEN 'wetland_boundary' THEN 2 WHEN 'bank_top' THEN 3 ELSE 0 END AS %s", text, as)
	}
	const micrometresPerFoot, micrometresPerInch = "304800", "25400"
	list := []string{
		"occurrenceID", word("place", Place), word("scientificName", Species), word("form", Form),
		word("desirable_vegetation", Desirable), word("land_use", LandUse), word("soil_state", Soil), word("bark_state", Bark),
		word("root_check", RootCheck),
		// Every row states a diameter: what is no number cannot be read as a stem.
		fmt.Sprintf("coalesce(CAST(round(coalesce(try_cast(dbh_in AS DOUBLE), try_cast(root_collar_in AS DOUBLE)) * %s) AS BIGINT), 0) AS %s", micrometresPerInch, Diameter),
		number("height_ft", micrometresPerFoot, Height), number("stem_density_per_ha", "1", Density), number("slope_percent", "10", Slope),
		number("distance_perennial_stream_ft", micrometresPerFoot, Stream), origin("distance_perennial_stream_from", StreamFrom),
		number("distance_wetland_ft", micrometresPerFoot, Wetland), origin("distance_wetland_from", WetlandFrom),
		number("distance_well_ft", micrometresPerFoot, Well), origin("distance_well_from", WellFrom),
		number("other_water_beyond_ft", micrometresPerFoot, Beyond),
	}
	text := "SELECT "
	for i, item := range list {
		if i > 0 {
			text += ",\n  "
		}
		text += item
	}
	return text + "\nFROM " + table
}
