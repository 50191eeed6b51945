package main

import (
	"context"
	"fmt"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/phenology"
	"example.org/rootward/rules/quantity"
)

// valley is the station for whose surroundings bylaw 1 states its window.
var valley = phenology.Hopkins{
	From: phenology.Place{Latitude: 41_200_000_0, Longitude: -79_500_000_0, Elevation: 1_200 * quantity.Foot},
	// The sources contradict each other on longitude; the bylaw says which it follows.
	East: phenology.EarlierEast,
}

// inLeaf is the window at the station.
var inLeaf = phenology.Season{
	Open:   civil.Window{From: civil.DayOfYear{Month: time.July, Day: 1}, To: civil.DayOfYear{Month: time.September, Day: 30}},
	Opens:  phenology.OfSpring,
	Closes: phenology.OfAutumn,
}

// Bylaw 2: the warmth after which sap flows down, and the day after which it rests.
var (
	warmth    = phenology.Model{Method: phenology.FourCase, Base: 10_00}
	sapIsDown = 300 * phenology.DegreeDay
	lastDay   = civil.DayOfYear{Month: time.October, Day: 31}
)

// evaluate computes a row for each site by itself.
func evaluate(ctx context.Context, row string, on civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error) {
	compute := map[string]func(civil.Date, *rules.SiteFacts) rules.Answer{foliarRow: byAltitude, barkRow: byWarmth}[row]
	if compute == nil {
		return nil, fmt.Errorf("no row %q is computed here", row)
	}
	answers := make([]rules.Answer, len(sites))
	for i := range sites {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		answers[i] = compute(on, &sites[i])
	}
	return answers, nil
}

func wanting(what string) rules.Answer { return rules.Answer{Kind: rules.FactMissing, Words: what} }

// byAltitude moves the station's window after Hopkins.
func byAltitude(_ civil.Date, s *rules.SiteFacts) rules.Answer {
	if !s.HasPosition || !s.HasElevation {
		return wanting("position and elevation of the site")
	}
	later, err := valley.Delay(phenology.Place{Latitude: s.Latitude, Longitude: s.Longitude, Elevation: s.Elevation})
	if err != nil {
		return wanting(err.Error())
	}
	words := fmt.Sprintf("spring comes %d days later than at the valley station, autumn as much earlier", later.Up())
	open, left := inLeaf.Move(later)
	if !left {
		return rules.Answer{Kind: rules.Closed, Words: words}
	}
	return rules.Answer{Kind: rules.OpenDuring, Open: open, Words: words}
}

// byWarmth opens the day after enough degree days have come together by the day
// before the treatment; until then it is closed, for nobody knows the weather to
// come.
func byWarmth(on civil.Date, s *rules.SiteFacts) rules.Answer {
	if s.Temperatures == nil {
		return wanting("daily temperatures from 1 January on")
	}
	year, _, _ := on.Parts()
	t := phenology.Temperatures{First: s.Temperatures.First, Least: s.Temperatures.Min, Greatest: s.Temperatures.Max}
	reached, err := warmth.Reached(t, civil.Of(year, time.January, 1), on.AddDays(-1), sapIsDown)
	if err != nil {
		return wanting(err.Error())
	}
	opens, closes := reached.AddDays(1), civil.Of(year, lastDay.Month, lastDay.Day)
	switch {
	case !reached.Known():
		return rules.Answer{Kind: rules.Closed, Words: fmt.Sprintf("%.0f degree days (%s) have not come together by %s; ask again with later temperatures", sapIsDown.Float(), warmth.Method, on.AddDays(-1))}
	case opens > closes:
		return rules.Answer{Kind: rules.Closed, Words: fmt.Sprintf("%.0f degree days (%s) came together on %s, after the season", sapIsDown.Float(), warmth.Method, reached)}
	}
	return rules.Answer{
		Kind: rules.OpenDuring, Open: civil.Window{From: opens.DayOfYear(), To: lastDay},
		Words: fmt.Sprintf("%.0f degree days (%s) had come together by %s", sapIsDown.Float(), warmth.Method, reached),
	}
}
