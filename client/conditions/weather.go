package conditions

import (
	"fmt"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"

	"example.org/rootward/client/wording"
)

var factors = map[commonv1.WeatherFactor]struct{ name, unit string }{
	commonv1.WeatherFactor_WEATHER_FACTOR_WIND_SPEED_MPH:    {"mean sustained wind", "mph"},
	commonv1.WeatherFactor_WEATHER_FACTOR_AIR_TEMPERATURE_F: {"air temperature", "°F"},
	commonv1.WeatherFactor_WEATHER_FACTOR_DELTA_T_C:         {"dry less wet bulb", "°C"},
	commonv1.WeatherFactor_WEATHER_FACTOR_RAIN_FREE_HOURS:   {"forecast without rain afterwards", "hours"},
}

// weather writes a limit with its unit behind the numbers.
func weather(w *ruletablev1.WeatherLimit) string {
	f, known := factors[w.GetFactor()]
	if !known {
		f.name = wording.Word(rules.WeatherFactor(w.GetFactor()))
	}
	var limits []string
	if w.Min != nil {
		limits = append(limits, fmt.Sprintf("at least %g", w.GetMin()))
	}
	if w.Max != nil {
		limits = append(limits, fmt.Sprintf("at most %g", w.GetMax()))
	}
	return strings.TrimSpace(fmt.Sprintf("%s %s %s", f.name, strings.Join(limits, " and "), f.unit))
}
