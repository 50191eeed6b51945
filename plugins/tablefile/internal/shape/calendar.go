package shape

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"google.golang.org/genproto/googleapis/type/date"
)

// The patterns that a date, a part of the year and a part of the day fit.
const (
	DatePattern   = `^[0-9]{4}-[0-9]{2}-[0-9]{2}$`
	dayPattern    = `[0-9]{1,2} (January|February|March|April|May|June|July|August|September|October|November|December)`
	WindowPattern = `^` + dayPattern + ` to ` + dayPattern + `$`
	timePattern   = `([0-9]{1,2}:[0-9]{2}|(midnight|sunrise|sunset)( [+-] [0-9]{1,2}:[0-9]{2})?)`
	HoursPattern  = `^` + timePattern + ` to ` + timePattern + `$`
)

// ParseDate reads YYYY-MM-DD.
func ParseDate(text string) (*date.Date, error) {
	d, err := civil.Parse(text)
	if err != nil {
		return nil, err
	}
	return rulewire.EncodeDate(d), nil
}

// FormatDate writes YYYY-MM-DD.
func FormatDate(d *date.Date) (string, error) {
	day, err := rulewire.DecodeDate(d)
	if err != nil {
		return "", err
	}
	return day.String(), nil
}

// ParseWindow reads a part of the year, as "15 July to 15 October".
func ParseWindow(text string) (*pb.Window, error) {
	from, to, found := strings.Cut(text, " to ")
	if !found {
		return nil, fmt.Errorf("%q is not a part of the year; write it like \"15 July to 15 October\"", text)
	}
	first, err := parseDay(from)
	if err != nil {
		return nil, err
	}
	last, err := parseDay(to)
	if err != nil {
		return nil, err
	}
	return &pb.Window{From: first, To: last}, nil
}

func parseDay(text string) (*pb.DayOfYear, error) {
	number, name, _ := strings.Cut(text, " ")
	day, err := strconv.Atoi(number)
	for m := time.January; err == nil && m <= time.December; m++ {
		if d := (civil.DayOfYear{Month: m, Day: day}); m.String() == name && d.Valid() {
			return &pb.DayOfYear{Month: int32(m), Day: int32(day)}, nil
		}
	}
	return nil, fmt.Errorf("%q is not a day of the year; write the day and the month's name, as \"15 July\"", text)
}

// FormatWindow writes a part of the year.
func FormatWindow(w *pb.Window) (string, error) {
	part := civil.Window{From: day(w.GetFrom()), To: day(w.GetTo())}
	if !part.Valid() {
		return "", fmt.Errorf("%s is not a part of the year", part)
	}
	return part.String(), nil
}

func day(d *pb.DayOfYear) civil.DayOfYear {
	return civil.DayOfYear{Month: time.Month(d.GetMonth()), Day: int(d.GetDay())}
}

var clockText = regexp.MustCompile(`^(?:(midnight|sunrise|sunset)(?: ([+-]) ([0-9]{1,2}):([0-9]{2}))?|([0-9]{1,2}):([0-9]{2}))$`)

// ParseHours reads a part of the day, as "7:00 to 19:30" or "sunrise + 0:30 to sunset".
func ParseHours(text string) (*pb.ClockHours, error) {
	from, to, found := strings.Cut(text, " to ")
	if !found {
		return nil, fmt.Errorf("%q is not a part of the day; write it like \"7:00 to 19:30\" or \"sunrise + 0:30 to sunset\"", text)
	}
	var h pb.ClockHours
	var err error
	if h.FromMin, h.FromAnchor, err = parseClock(from); err != nil {
		return nil, err
	}
	h.ToMin, h.ToAnchor, err = parseClock(to)
	return &h, err
}

func parseClock(text string) (int32, pb.ClockAnchor, error) {
	parts := clockText.FindStringSubmatch(text)
	if parts == nil {
		return 0, 0, fmt.Errorf("%q is not a time of day; write it like \"7:00\", \"sunrise\" or \"sunset - 1:00\"", text)
	}
	minutes, ok := minutesOf(parts[3]+parts[5], parts[4]+parts[6])
	if !ok {
		return 0, 0, fmt.Errorf("%q is not a time of day: hours go from 0 to 24 and minutes from 00 to 59", text)
	}
	if parts[2] == "-" {
		minutes = -minutes
	}
	anchor := pb.ClockAnchor_value["CLOCK_ANCHOR_"+strings.ToUpper(parts[1])]
	return minutes, pb.ClockAnchor(anchor), nil
}

func minutesOf(hours, minutes string) (int32, bool) {
	if hours == "" {
		return 0, true
	}
	h, _ := strconv.Atoi(hours)
	m, _ := strconv.Atoi(minutes)
	sum := 60*h + m
	return int32(sum), m < 60 && sum <= 24*60
}

// FormatHours writes a part of the day.
func FormatHours(h *pb.ClockHours) (string, error) {
	from, err := formatClock(h.GetFromMin(), h.GetFromAnchor())
	if err != nil {
		return "", err
	}
	to, err := formatClock(h.GetToMin(), h.GetToAnchor())
	return from + " to " + to, err
}

func formatClock(minutes int32, anchor pb.ClockAnchor) (string, error) {
	sign := "+"
	if minutes < 0 {
		sign, minutes = "-", -minutes
	}
	clock := fmt.Sprintf("%d:%02d", minutes/60, minutes%60)
	name, known := pb.ClockAnchor_name[int32(anchor)]
	switch {
	case !known || minutes < 0 || minutes > 24*60 || anchor == 0 && sign == "-":
		return "", fmt.Errorf("%s%s from anchor %d is not a time of day", sign, clock, anchor)
	case anchor == 0:
		return clock, nil
	}
	name = strings.ToLower(strings.TrimPrefix(name, "CLOCK_ANCHOR_"))
	if minutes == 0 {
		return name, nil
	}
	return fmt.Sprintf("%s %s %s", name, sign, clock), nil
}
