package weather

import "math"

// The air for which the formula of WetBulb was fitted: relative humidity in percent and
// air temperature in degrees Celsius.
const (
	minHumidity, maxHumidity       = 5, 99
	minTemperature, maxTemperature = -20, 50
)

// WetBulb is the wet-bulb temperature in degrees Celsius of air at sea-level pressure, by
// the empirical formula of R. Stull (Journal of Applied Meteorology and Climatology 50,
// 2011, pp. 2267-2269), which errs by -1 to 0.65 degrees. It is false for air that the
// formula was not fitted to.
func WetBulb(celsius, humidityPercent float64) (float64, bool) {
	t, h := celsius, humidityPercent
	if !(h >= minHumidity && h <= maxHumidity && t >= minTemperature && t <= maxTemperature) {
		return 0, false
	}
	return t*math.Atan(0.151977*math.Sqrt(h+8.313659)) + math.Atan(t+h) - math.Atan(h-1.676331) +
		0.00391838*math.Pow(h, 1.5)*math.Atan(0.023101*h) - 4.686035, true
}

// DeltaT is the dry less the wet bulb in degrees Celsius: how fast droplets evaporate. Air
// moister than the formula was fitted to is taken as the moistest of it.
func DeltaT(celsius, humidityPercent float64) (float64, bool) {
	if humidityPercent > maxHumidity && humidityPercent <= 100 {
		humidityPercent = maxHumidity
	}
	wet, ok := WetBulb(celsius, humidityPercent)
	return celsius - wet, ok
}
