package open

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
)

const header = "occurrenceID,scientificName,locationID,place,site_area_m2,decimalLatitude,decimalLongitude," +
	"form,dbh_cm,root_collar_cm,height_m,individualCount,desirable_vegetation,land_use,soil_state,bark_state," +
	"root_check,slope_percent,other_water_beyond_m"

// Inventory converts the measured files of a folder: a row for every stem, in
// the order of the sites and files, none dropped. Equal files give equal bytes.
func Inventory(dir fs.FS) ([]byte, error) {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	_ = w.Write(strings.Split(header, ",")) // a buffer takes every write
	for _, s := range sites {
		if err := s.convert(dir, w); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return out.Bytes(), w.Error()
}

func (s site) convert(dir fs.FS, w *csv.Writer) error {
	rows, err := s.read(dir)
	if err != nil {
		return err
	}
	origin := point{placeLatitude, placeLongitude}.offset(s.east, s.north)
	for i, row := range rows {
		stem, err := s.stem(row, i)
		if err != nil {
			return fmt.Errorf("%s, row %d: %w", s.file, i+1, err)
		}
		_ = w.Write(s.record(i, stem, origin.offset(stem.east, stem.north)))
	}
	return nil
}

// read gives the rows below the header, which must be the one expected.
func (s site) read(dir fs.FS) ([][]string, error) {
	file, err := dir.Open(s.file)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.file, err)
	}
	if len(rows) == 0 || strings.Join(rows[0], ",") != s.columns {
		return nil, fmt.Errorf("%s: the header must be %s", s.file, s.columns)
	}
	return rows[1:], nil
}

func (s site) record(index int, m stem, at point) []string {
	breast, collar := m.diameters()
	return []string{
		fmt.Sprintf("%s-%04d", s.id, index+1), s.species, s.id, place, s.areaM2,
		degrees(at.latitude), degrees(at.longitude),
		m.form(), breast, collar, decimal(m.height, metre),
		"1", "none", "forest", "moist", "dry", "", "5", "500",
	}
}

// degrees writes 8 decimals, about a millimetre.
func degrees(v float64) string { return strconv.FormatFloat(v, 'f', 8, 64) }
