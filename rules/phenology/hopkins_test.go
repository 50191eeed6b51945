package phenology_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/phenology"
	"example.org/rootward/rules/quantity"
)

const degree = 10_000_000

var home = phenology.Place{Latitude: 40 * degree, Longitude: -75 * degree, Elevation: 1_000 * quantity.Foot}

func at(latitude, longitude float64, feet int) phenology.Place {
	return phenology.Place{
		Latitude: home.Latitude + int32(latitude*degree), Longitude: home.Longitude + int32(longitude*degree),
		Elevation: home.Elevation + quantity.Micrometres(feet)*quantity.Foot,
	}
}

// The amounts are those of Applications in Plant Sciences 7(3) e01228 (2019):
// 4 days for a degree of latitude, for 400 ft and for 5 degrees of longitude.
func TestDelay(t *testing.T) {
	cases := []struct {
		name string
		to   phenology.Place
		east phenology.Eastward
		want phenology.Delay
	}{
		{"the same place", home, phenology.LaterEast, 0},
		{"a degree towards the pole and 400 ft up", at(1, 0, 400), phenology.NoChange, 8 * phenology.Day},
		{"a degree towards the pole", at(1, 0, 0), phenology.NoChange, 4 * phenology.Day},
		{"a degree towards the equator", at(-1, 0, 0), phenology.NoChange, -4 * phenology.Day},
		{"100 ft up", at(0, 0, 100), phenology.NoChange, phenology.Day},
		{"5 degrees east, longitude left out", at(0, 5, 0), phenology.NoChange, 0},
		// The two sources contradict each other: a garden dictionary says later
		// going east, the article's text later going west.
		{"5 degrees east, later so", at(0, 5, 0), phenology.LaterEast, 4 * phenology.Day},
		{"5 degrees east, earlier so", at(0, 5, 0), phenology.EarlierEast, -4 * phenology.Day},
		{"5 degrees west, earlier east", at(0, -5, 0), phenology.EarlierEast, 4 * phenology.Day},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, err := phenology.Hopkins{From: home, East: c.east}.Delay(c.to)
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
			back, err := phenology.Hopkins{From: c.to, East: c.east}.Delay(home)
			require.NoError(t, err)
			assert.Equal(t, -c.want, back)
		})
	}
}

func TestTheShortWayRoundTheEarthAndTheOtherHemisphere(t *testing.T) {
	fiji := phenology.Place{Latitude: -17 * degree, Longitude: 178 * degree}
	east := phenology.Place{Latitude: -18 * degree, Longitude: -177 * degree}
	got, err := phenology.Hopkins{From: fiji, East: phenology.LaterEast}.Delay(east)
	require.NoError(t, err)
	assert.Equal(t, 8*phenology.Day, got, "a degree towards the south pole, 5 degrees east over the antimeridian")
}

func TestWhereTheLawIsNotFollowed(t *testing.T) {
	cases := map[string]struct {
		from, to phenology.Place
		want     string
	}{
		"across the equator": {phenology.Place{Latitude: 5 * degree}, phenology.Place{Latitude: -5 * degree}, "both sides of the equator"},
		"too far":            {home, at(23, 0, 0), "92 days"},
		"beyond the pole":    {home, phenology.Place{Latitude: 90*degree + 1}, "no place on earth"},
		"too high":           {home, at(0, 0, 30_000), "elevation"},
		"home is too low":    {phenology.Place{Elevation: -501 * quantity.Metre}, home, "elevation"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			_, err := phenology.Hopkins{From: c.from}.Delay(c.to)
			assert.ErrorContains(t, err, c.want)
		})
	}
}

func window(fromMonth time.Month, from int, toMonth time.Month, to int) civil.Window {
	return civil.Window{From: civil.DayOfYear{Month: fromMonth, Day: from}, To: civil.DayOfYear{Month: toMonth, Day: to}}
}

// summer opens by an event of spring and closes by one of autumn.
var summer = phenology.Season{Open: window(time.July, 1, time.September, 30), Opens: phenology.OfSpring, Closes: phenology.OfAutumn}

func TestMove(t *testing.T) {
	spring := phenology.Season{Open: window(time.March, 1, time.April, 10), Opens: phenology.OfSpring, Closes: phenology.OfSpring}
	winter := phenology.Season{Open: window(time.November, 15, time.March, 10), Opens: phenology.OfAutumn, Closes: phenology.OfSpring}
	cases := []struct {
		name   string
		season phenology.Season
		by     phenology.Delay
		want   string // empty where nothing is left
	}{
		{"not at all", summer, 0, "1 July to 30 September"},
		{"spring later, autumn earlier", summer, 8 * phenology.Day, "9 July to 22 September"},
		{"spring earlier, autumn later", summer, -8 * phenology.Day, "23 June to 8 October"},
		{"part of a day later narrows it", summer, phenology.Day/2 + 1, "2 July to 29 September"},
		{"part of a day earlier does not widen it", summer, 1 - phenology.Day, "1 July to 30 September"},
		{"two days are left", summer, 45 * phenology.Day, "15 August to 16 August"},
		{"nothing is left", summer, 45*phenology.Day + 1, ""},
		{"both ends by spring", spring, 30 * phenology.Day, "31 March to 10 May"},
		{"over the year's end", spring, -70 * phenology.Day, "21 December to 30 January"},
		{"over the year's end already", winter, 10 * phenology.Day, "5 November to 20 March"},
		{"28 February would hold the 29th", winter, -10 * phenology.Day, "25 November to 27 February"},
		{"a year or more", phenology.Season{Open: window(time.January, 10, time.December, 20), Opens: phenology.OfSpring, Closes: phenology.OfAutumn}, -20 * phenology.Day, "1 January to 31 December"},
		{"a leap day that closes counts as the day before", phenology.Season{Open: window(time.December, 1, time.February, 29), Opens: phenology.OfSpring, Closes: phenology.OfAutumn}, -5 * phenology.Day, "26 November to 5 March"},
		{"a leap day that does not move", phenology.Season{Open: window(time.February, 29, time.March, 31), Opens: phenology.OfSpring, Closes: phenology.OfSpring}, 0, "29 February to 31 March"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, left := c.season.Move(c.by)
			require.Equal(t, c.want != "", left)
			if left {
				assert.Equal(t, c.want, got.String())
				assert.True(t, got.Valid())
			}
		})
	}
}

// Higher up, nothing opens that is closed farther down.
func TestHigherUpASummerIsNeverWider(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := phenology.Hopkins{From: home}
		low := quantity.Micrometres(rapid.Int64Range(0, int64(9_000*quantity.Foot)).Draw(t, "low"))
		high := low + quantity.Micrometres(rapid.Int64Range(0, int64(1_000*quantity.Foot)).Draw(t, "higher"))
		down, err := h.Delay(phenology.Place{Latitude: home.Latitude, Longitude: home.Longitude, Elevation: low})
		require.NoError(t, err)
		up, err := h.Delay(phenology.Place{Latitude: home.Latitude, Longitude: home.Longitude, Elevation: high})
		require.NoError(t, err)
		lower, some := summer.Move(down)
		higher, left := summer.Move(up)
		require.True(t, some || !left)
		for d := civil.Of(2027, 1, 1); left && d <= civil.Of(2028, 12, 31); d++ {
			require.True(t, !higher.Holds(d) || lower.Holds(d), "%s: %s, and %s lower down", d, higher, lower)
		}
	})
}

func TestRounding(t *testing.T) {
	for _, c := range []struct {
		d        phenology.Delay
		down, up int
	}{{0, 0, 0}, {1, 0, 1}, {-1, -1, 0}, {phenology.Day, 1, 1}, {-phenology.Day, -1, -1}, {phenology.Day + 1, 1, 2}, {-phenology.Day - 1, -2, -1}} {
		assert.Equal(t, c.down, c.d.Down())
		assert.Equal(t, c.up, c.d.Up())
	}
}
