package weather

import (
	"math"
	"time"
)

// Sun is when the sun is up on a day at a place.
type Sun struct {
	Rise, Set time.Time // zero where it does neither
	Up        bool      // it does not set on that day
	Down      bool      // it does not rise on that day
}

// horizon is the zenith distance of the sun's centre as its upper edge is on the horizon,
// in degrees: 34 minutes of arc of refraction and 16 of radius.
const horizon = 90.833

// SunOn computes sunrise and sunset of the day, by the sun, that holds a time, by the
// equations of the NOAA solar calculator (after J. Meeus, Astronomical Algorithms, 1991),
// which are good to a minute up to 72 degrees of latitude, ten minutes beyond. The sun
// is said to rise the whole minute after, and to set the whole minute before: never light
// that is not there, on level ground.
func SunOn(at time.Time, latitudeDeg, longitudeDeg float64) Sun {
	meanTime := at.UTC().Add(time.Duration(longitudeDeg / 15 * float64(time.Hour)))
	midnight := meanTime.Truncate(24 * time.Hour).Add(-time.Duration(longitudeDeg / 15 * float64(time.Hour)))
	noon := midnight.Add(12 * time.Hour)
	rise, fate := crossing(noon, latitudeDeg, -1)
	if fate != crosses {
		return Sun{Up: fate == staysUp, Down: fate == staysDown}
	}
	set, fate := crossing(noon, latitudeDeg, 1)
	if fate != crosses {
		return Sun{Up: fate == staysUp, Down: fate == staysDown}
	}
	return Sun{Rise: rise.Add(time.Minute - 1).Truncate(time.Minute), Set: set.Truncate(time.Minute)}
}

type fate uint8

const (
	crosses fate = iota
	staysUp
	staysDown
)

// crossing is when the sun crosses the horizon before (-1) or after (1) a mean noon. The
// sun moves meanwhile, so that its place is taken anew at the time found.
func crossing(noon time.Time, latitude, side float64) (time.Time, fate) {
	at := noon
	for range 3 {
		declination, equation := sunAt(at)
		c := cosine(horizon)/(cosine(latitude)*math.Cos(declination)) - math.Tan(radians(latitude))*math.Tan(declination)
		if c > 1 {
			return at, staysDown
		}
		if c < -1 {
			return at, staysUp
		}
		fromNoon := side*degrees(math.Acos(c))*4 - equation
		at = noon.Add(time.Duration(fromNoon * float64(time.Minute)))
	}
	return at, crosses
}

// sunAt gives the sun's declination in radians and the equation of time in minutes.
func sunAt(at time.Time) (declination, equation float64) {
	century := (at.Sub(time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC)).Hours()/24 + leapDays) / 36525
	meanLongitude := radians(280.46646 + century*(36000.76983+century*0.0003032))
	anomaly := radians(357.52911 + century*(35999.05029-0.0001537*century))
	eccentricity := 0.016708634 - century*(0.000042037+0.0000001267*century)
	centre := math.Sin(anomaly)*(1.914602-century*(0.004817+0.000014*century)) +
		math.Sin(2*anomaly)*(0.019993-0.000101*century) + math.Sin(3*anomaly)*0.000289
	node := radians(125.04 - 1934.136*century)
	longitude := meanLongitude + radians(centre-0.00569-0.00478*math.Sin(node))
	obliquity := radians(23 + (26+(21.448-century*(46.815+century*(0.00059-century*0.001813)))/60)/60 + 0.00256*math.Cos(node))
	declination = math.Asin(math.Sin(obliquity) * math.Sin(longitude))
	y := math.Pow(math.Tan(obliquity/2), 2)
	equation = 4 * degrees(y*math.Sin(2*meanLongitude)-2*eccentricity*math.Sin(anomaly)+
		4*eccentricity*y*math.Sin(anomaly)*math.Cos(2*meanLongitude)-
		y*y/2*math.Sin(4*meanLongitude)-1.25*eccentricity*eccentricity*math.Sin(2*anomaly))
	return declination, equation
}

// leapDays is what the clock of the sky is ahead of UTC, about 69 seconds in this decade.
const leapDays = 69.0 / 86400

func radians(deg float64) float64 { return deg * math.Pi / 180 }
func degrees(rad float64) float64 { return rad * 180 / math.Pi }
func cosine(deg float64) float64  { return math.Cos(radians(deg)) }
