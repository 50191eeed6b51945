package phenology

import (
	"fmt"
	"time"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Place is a point on the earth.
type Place struct {
	Latitude  int32 // ten-millionths of a degree, south negative
	Longitude int32 // ten-millionths of a degree, west negative
	Elevation quantity.Micrometres
}

// degree is a degree of latitude or longitude.
const degree = 10_000_000

// The elevations that a place can have; the lowest and the highest dry land lie
// within (common knowledge, no source).
const (
	lowest  = -500 * quantity.Metre
	highest = 9_000 * quantity.Metre
)

func (p Place) check() error {
	switch {
	case p.Latitude < -90*degree || p.Latitude > 90*degree || p.Longitude < -180*degree || p.Longitude > 180*degree:
		return fmt.Errorf("latitude %d and longitude %d ten-millionths of a degree are no place on earth; state degrees times 10,000,000", p.Latitude, p.Longitude)
	case p.Elevation < lowest || p.Elevation > highest:
		return fmt.Errorf("elevation %.0f m is not from %.0f to %.0f m; correct it", p.Elevation.Metres(), lowest.Metres(), highest.Metres())
	}
	return nil
}

// Eastward says what a journey east does to spring. The sources contradict each
// other, so whoever uses the law says which one is followed.
type Eastward int8

// What a journey east does to spring.
const (
	LaterEast   Eastward = 1  // a garden dictionary's entry on the law
	NoChange    Eastward = 0  // longitude is left out
	EarlierEast Eastward = -1 // so later going west: Applications in Plant Sciences 7(3) e01228 (2019)
)

// Hopkins is Hopkins' law: an event of spring comes four days later for each
// degree of latitude towards the pole, for each 400 ft up, and for each five
// degrees of longitude in one direction; an event of autumn comes as much earlier
// (Applications in Plant Sciences 7(3) e01228, 2019, for the amounts; a garden
// dictionary's entry on the law for autumn).
type Hopkins struct {
	From Place    // where the dates are known
	East Eastward // what a journey east does
}

// Delay is by how much spring comes later: negative where it comes earlier. It is
// exact.
type Delay int64

// Day is one day in parts so small that each term of the law is a whole number of
// them: the least common multiple of what each takes for a day.
const Day Delay = 19_050_000_000

// What makes a day of delay.
const (
	latitudePerDay  = degree / 4
	longitudePerDay = 5 * degree / 4
	elevationPerDay = Delay(100 * quantity.Foot)
)

// farthest is how far the law is followed: what it says of a place three months
// away says nothing of the same plants (common practice, no source).
const farthest = 90 * Day

// Delay gives by how much spring comes later at a place than where it is known.
func (h Hopkins) Delay(to Place) (Delay, error) {
	for _, p := range []Place{h.From, to} {
		if err := p.check(); err != nil {
			return 0, err
		}
	}
	if int64(h.From.Latitude)*int64(to.Latitude) < 0 {
		return 0, fmt.Errorf("latitudes %d and %d lie on both sides of the equator, where seasons are not late but reversed; take the dates of a place on the same side", h.From.Latitude, to.Latitude)
	}
	poleward := magnitude(to.Latitude) - magnitude(h.From.Latitude)
	up := Delay(to.Elevation - h.From.Elevation)
	d := poleward*(Day/latitudePerDay) + Delay(h.East)*eastward(h.From.Longitude, to.Longitude)*(Day/longitudePerDay) + up*(Day/elevationPerDay)
	if magnitude(d) > farthest {
		return 0, fmt.Errorf("the law moves spring by %.0f days, more than the %.0f for which it is followed; take the dates of a nearer place", d.Days(), farthest.Days())
	}
	return d, nil
}

func magnitude[T ~int32 | ~int64](v T) Delay { return max(Delay(v), -Delay(v)) }

// eastward is the shorter way round the earth.
func eastward(from, to int32) Delay {
	const round = 360 * degree
	way := Delay(to) - Delay(from)
	switch {
	case way > round/2:
		return way - round
	case way <= -round/2:
		return way + round
	}
	return way
}

// Days gives a delay in days, for people.
func (d Delay) Days() float64 { return float64(d) / float64(Day) }

// Down gives whole days, rounded to the earlier.
func (d Delay) Down() int {
	days := d / Day
	if d%Day < 0 {
		days--
	}
	return int(days)
}

// Up gives whole days, rounded to the later.
func (d Delay) Up() int { return -(-d).Down() }

// Event is an event of the year that ends or begins a window.
type Event uint8

// The events: those of spring come later towards the pole and up, those of autumn
// earlier.
const (
	OfSpring Event = iota + 1
	OfAutumn
)

func (e Event) delay(spring Delay) Delay {
	if e == OfAutumn {
		return -spring
	}
	return spring
}

// Season is a window that is known at one place, with what opens and closes it.
type Season struct {
	Open   civil.Window
	Opens  Event
	Closes Event
}

// yearDays is the length of the years in which windows are moved. A window is of
// every year, so that 29 February has no place of its own: it counts as 1 March where
// it opens, and as 28 February where it closes.
const yearDays = 365

// commonYear is any year without 29 February.
const commonYear = 2027

// Move gives the season's window where spring comes later by the delay, and false
// where nothing of it is left. It rounds so that the window is never wider than it
// would be unrounded: the opening to the later day, the closing to the earlier. A
// window that comes to be a year or longer is the whole year.
func (s Season) Move(by Delay) (civil.Window, bool) {
	first, last := s.Opens.delay(by).Up(), s.Closes.delay(by).Down()
	if last != 0 && s.Open.To == leapDay {
		s.Open.To = endOfFebruary // a closing that counted as 1 March would be a day late
	}
	from, to := ordinal(s.Open.From), ordinal(s.Open.To)
	days := (to-from+yearDays)%yearDays + 1 + last - first
	if days >= yearDays {
		return civil.Window{From: dayOf(0), To: dayOf(yearDays - 1)}, true
	}
	if last != 0 && dayOf(to+last) == endOfFebruary {
		last, days = last-1, days-1
	}
	if days < 1 {
		return civil.Window{}, false
	}
	return civil.Window{From: moved(s.Open.From, first), To: moved(s.Open.To, last)}, true
}

// endOfFebruary closes a window on 29 February in leap years, and so a day later
// than was computed.
var endOfFebruary = civil.DayOfYear{Month: time.February, Day: 28}

var leapDay = civil.DayOfYear{Month: time.February, Day: 29}

// moved leaves a day that does not move as it was stated.
func moved(d civil.DayOfYear, days int) civil.DayOfYear {
	if days == 0 {
		return d
	}
	return dayOf(ordinal(d) + days)
}

func ordinal(d civil.DayOfYear) int {
	return int(civil.Of(commonYear, d.Month, d.Day) - civil.Of(commonYear, time.January, 1))
}

func dayOf(ordinal int) civil.DayOfYear {
	ordinal = (ordinal%yearDays + yearDays) % yearDays
	return civil.Of(commonYear, time.January, 1+ordinal).DayOfYear()
}
