package command

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"
)

// readForecast reads the hours of a forecast: CSV by the ending of the file's name, else
// YAML or JSON.
func readForecast(path string) ([]*campaignv1.Weather, error) {
	if strings.HasSuffix(strings.ToLower(path), ".csv") {
		return forecastCSV(path)
	}
	q := &campaignv1.CheckDayRequest{}
	fields, err := (&described{File: path}).read(q)
	if err != nil {
		return nil, misuse{err}
	}
	if len(fields) != 1 || fields[0] != "forecast" {
		return nil, misuse{fmt.Errorf("%s holds %s: write one list named forecast", path, strings.Join(fields, ", "))}
	}
	return q.GetForecast(), nil
}

// forecastColumns read a value each. An empty one is not known.
var forecastColumns = map[string]func(*campaignv1.Weather, string) error{
	"time": func(w *campaignv1.Weather, text string) error {
		var m moment
		err := m.UnmarshalText([]byte(text))
		w.Time = timestamppb.New(m.Time)
		return err
	},
	"inversion": func(w *campaignv1.Weather, text string) error {
		v, err := rules.ParseWord[rules.YesNo](text)
		w.Inversion = commonv1.YesNo(v)
		return err
	},
	"wind_m_s":         numeric(func(w *campaignv1.Weather, v float64) { w.WindMS = &v }),
	"wind_mph":         numeric(func(w *campaignv1.Weather, v float64) { w.WindMS = times(&v, mPerSecond) }),
	"gust_m_s":         numeric(func(w *campaignv1.Weather, v float64) { w.GustMS = &v }),
	"gust_mph":         numeric(func(w *campaignv1.Weather, v float64) { w.GustMS = times(&v, mPerSecond) }),
	"wind_from_deg":    numeric(func(w *campaignv1.Weather, v float64) { w.WindFromDeg = &v }),
	"temperature_c":    numeric(func(w *campaignv1.Weather, v float64) { w.TemperatureC = &v }),
	"temperature_f":    numeric(func(w *campaignv1.Weather, v float64) { w.TemperatureC = celsius(&v) }),
	"humidity_percent": numeric(func(w *campaignv1.Weather, v float64) { w.HumidityPercent = &v }),
	"rain_mm":          numeric(func(w *campaignv1.Weather, v float64) { w.RainMm = &v }),
	"rain_in":          numeric(func(w *campaignv1.Weather, v float64) { w.RainMm = times(&v, mmPerInch) }),
	"rain_percent":     numeric(func(w *campaignv1.Weather, v float64) { w.RainPercent = &v }),
}

// twins are columns of one quantity, of which a file has one.
var twins = [][2]string{{"wind_m_s", "wind_mph"}, {"gust_m_s", "gust_mph"}, {"temperature_c", "temperature_f"}, {"rain_mm", "rain_in"}}

func numeric(set func(*campaignv1.Weather, float64)) func(*campaignv1.Weather, string) error {
	return func(w *campaignv1.Weather, text string) error {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return fmt.Errorf("%q is not a number", text)
		}
		set(w, v)
		return nil
	}
}

func forecastCSV(path string) ([]*campaignv1.Weather, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	in := csv.NewReader(io.LimitReader(file, maxDescription))
	in.TrimLeadingSpace = true
	head, err := in.Read()
	if err != nil {
		return nil, misuse{fmt.Errorf("%s: %w: begin with a line of column names", path, err)}
	}
	if err := checkHead(head); err != nil {
		return nil, misuse{fmt.Errorf("%s: %w", path, err)}
	}
	var hours []*campaignv1.Weather
	var faults []error
	for {
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, misuse{fmt.Errorf("%s: %w", path, err)}
		}
		w := &campaignv1.Weather{}
		line, _ := in.FieldPos(0)
		for i, text := range record {
			if text = strings.TrimSpace(text); text == "" {
				continue
			}
			if err := forecastColumns[head[i]](w, text); err != nil {
				faults = append(faults, misuse{fmt.Errorf("%s, line %d, column %s: %w", path, line, head[i], err)})
			}
		}
		hours = append(hours, w)
	}
	return hours, errors.Join(faults...)
}

// checkHead takes known columns, each once, and each quantity in one unit.
func checkHead(head []string) error {
	for i, name := range head {
		name = strings.TrimPrefix(strings.TrimSpace(name), "\ufeff") // as spreadsheets begin a file
		if forecastColumns[name] == nil {
			return fmt.Errorf("there is no column %q: see rootward day --help", name)
		}
		if slices.Contains(head[:i], name) {
			return fmt.Errorf("column %s is there twice", name)
		}
		head[i] = name
	}
	for _, pair := range twins {
		if slices.Contains(head, pair[0]) && slices.Contains(head, pair[1]) {
			return fmt.Errorf("%s and %s are the same: leave one out", pair[0], pair[1])
		}
	}
	if !slices.Contains(head, "time") {
		return errors.New("the column time is missing")
	}
	return nil
}
