package weather_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/server/campaign/weather"
)

// saturation is e°(T) in kPa of FAO Irrigation and Drainage Paper 56, equation 11.
func saturation(celsius float64) float64 {
	return 0.6108 * math.Exp(17.27*celsius/(celsius+237.3))
}

// W13: FAO Irrigation and Drainage Paper 56, examples 3 and 5 (from memory).
func TestTheReferenceItself(t *testing.T) {
	assert.InDelta(t, 3.168, saturation(25), 0.005)
	assert.InDelta(t, 2.064, saturation(18), 0.005)
	assert.InDelta(t, 1.70, (saturation(18)*0.82+saturation(25)*0.54)/2, 0.005)
}

// The wet bulb is held against the psychrometric equation of FAO 56 (equation 15, an
// aspirated psychrometer, 0.000662 per °C) at 101.3 kPa. The formula's author states
// errors of -1 to 0.65 °C against tables; the psychrometer's constant adds a little.
func TestTheWetBulbAgreesWithThePsychrometer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dry, humidity := rapid.Float64Range(0, 40).Draw(t, "dry"), rapid.Float64Range(15, 95).Draw(t, "humidity")
		wet, ok := weather.WetBulb(dry, humidity)
		require.True(t, ok)
		low, high := -40.0, dry
		for range 60 {
			mid := (low + high) / 2
			if saturation(mid)-0.000662*101.3*(dry-mid) > saturation(dry)*humidity/100 {
				high = mid
			} else {
				low = mid
			}
		}
		assert.InDelta(t, low, wet, 1.2)
	})
}

// W11: the formula at 20 °C and 50 % (from memory).
func TestTheWetBulbOfTheExample(t *testing.T) {
	wet, ok := weather.WetBulb(20, 50)
	assert.True(t, ok)
	assert.InDelta(t, 13.70, wet, 0.02)
}

func TestAirThatTheFormulaWasNotFittedTo(t *testing.T) {
	for _, c := range [][2]float64{{20, 4.9}, {20, 100.1}, {-20.1, 50}, {50.1, 50}, {math.NaN(), 50}, {20, math.NaN()}} {
		_, ok := weather.DeltaT(c[0], c[1])
		assert.False(t, ok, "%v", c)
	}
	moist, ok := weather.DeltaT(20, 100)
	assert.True(t, ok)
	assert.Less(t, moist, 2.0, "saturated air is too moist to spray in")
	// Delta T out of reach is not known, and so no leave.
	d := good(rules.LowVolumeFoliar)
	everywhere(d, func(r *weather.Reading) { r.Humidity = ptr(4.0) })
	assert.Equal(t, weather.Unknown, named(t, d.Check(), "delta T").Verdict)
}

// The worked example of the solar position algorithm of NREL (technical report
// TP-560-34302, revised January 2008, with its published program): 17 October 2003 at
// 39.742476 N, 105.1786 W, zone -7: sunrise 06:12:43, sunset 17:20:19. It counts days in
// UT, in which the sunset at 17:20 of zone -7 is that of the evening before, the 16th: the
// days draw in by a minute and a half each then.
func TestTheSunOfThePublishedExample(t *testing.T) {
	zone := time.FixedZone("", -7*3600)
	for _, hour := range []int{0, 6, 12, 18, 23} { // whatever the time of the day
		const north, east = 39.742476, -105.1786
		rise, set := time.Date(2003, time.October, 17, 6, 12, 43, 0, zone), time.Date(2003, time.October, 16, 17, 20, 19, 0, zone)
		computed := weather.SunOn(time.Date(2003, time.October, 17, hour, 30, 30, 0, zone), north, east).Rise
		assert.WithinDuration(t, rise, computed, 75*time.Second)
		assert.False(t, computed.Before(rise.Truncate(time.Minute)), "never before")
		computed = weather.SunOn(time.Date(2003, time.October, 16, hour, 30, 30, 0, zone), north, east).Set
		assert.WithinDuration(t, set, computed, 75*time.Second)
		assert.False(t, computed.After(set), "never after")
	}
}

// The day at the equator is always a little longer than twelve hours, the longest day is
// that of the solstice, and north and south have opposite days, but for the light that
// the air bends and the orbit's shape.
func TestTheSunByPlaceAndSeason(t *testing.T) {
	length := func(at time.Time, latitude, longitude float64) time.Duration {
		s := weather.SunOn(at, latitude, longitude)
		return s.Set.Sub(s.Rise)
	}
	rapid.Check(t, func(t *rapid.T) {
		at := time.Date(2026, time.January, 1, 12, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 3650).Draw(t, "day"))
		longitude := rapid.Float64Range(-180, 180).Draw(t, "longitude")
		assert.InDelta(t, (12*time.Hour + 6*time.Minute).Minutes(), length(at, 0, longitude).Minutes(), 3)
		latitude := rapid.Float64Range(-45, 45).Draw(t, "latitude")
		both := length(at, latitude, longitude) + length(at, -latitude, longitude)
		assert.InDelta(t, (24*time.Hour + 12*time.Minute).Minutes(), both.Minutes(), 25)
		s := weather.SunOn(at, latitude, longitude)
		assert.True(t, s.Rise.Before(s.Set) && s.Set.Sub(s.Rise) < 24*time.Hour)
		assert.LessOrEqual(t, s.Rise.Sub(at).Abs(), 24*time.Hour)
	})
	june, december := time.Date(2026, time.June, 21, 12, 0, 0, 0, time.UTC), time.Date(2026, time.December, 21, 12, 0, 0, 0, time.UTC)
	// From memory: 15 h 1 min and 9 h 20 min at 40 degrees north.
	assert.InDelta(t, 15*60+1, length(june, 40, 0).Minutes(), 3)
	assert.InDelta(t, 9*60+20, length(december, 40, 0).Minutes(), 3)
	assert.True(t, weather.SunOn(june, 68, 0).Up)
	assert.True(t, weather.SunOn(december, 68, 0).Down)
	assert.True(t, weather.SunOn(june, -68, 0).Down)
}
