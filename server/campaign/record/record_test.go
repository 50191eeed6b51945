package record_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/server/campaign/record"
)

// 7 CFR 110.3(c), (d), 2015 edition: 14 days, two years (L23, L24 of the facts).
var federal = rules.Record{Fields: []string{"brand name", "EPA registration number", "date"}, WithinDays: 14, KeepYears: 2}

func done(at, kept string) *record.Record {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	parse := func(s string) time.Time {
		t, err := time.ParseInLocation("2006-01-02 15:04", s, zone)
		if err != nil {
			panic(err)
		}
		return t
	}
	return &record.Record{Facts: map[record.Fact]bool{record.Product: true, record.Registration: true, record.Start: true}, Begun: parse(at), Ended: parse(at), Kept: parse(kept)}
}

func TestDeadlinesHaveTwoSides(t *testing.T) {
	onDay14 := done("2025-06-20 10:00", "2025-07-04 23:59").Judge(&federal)
	assert.True(t, onDay14.OnTime, "L23: day 14")
	assert.True(t, onDay14.Complete())
	onDay15 := done("2025-06-20 10:00", "2025-07-05 00:00").Judge(&federal)
	assert.False(t, onDay15.OnTime, "L23: day 15")
	assert.False(t, onDay15.Complete())
	assert.Equal(t, "2027-06-20", onDay14.KeepUntil.Format(time.DateOnly), "L24")

	// New South Wales: an aerial record is made within 48 hours (L49).
	aerial := rules.Record{WithinHours: 48, KeepYears: 3}
	assert.True(t, done("2025-06-20 10:00", "2025-06-22 10:00").Judge(&aerial).Complete())
	assert.False(t, done("2025-06-20 10:00", "2025-06-22 10:01").Judge(&aerial).Complete())

	open := rules.Record{Fields: []string{"date"}}
	d := done("2025-06-20 10:00", "2029-06-22 10:00").Judge(&open)
	assert.True(t, d.Complete() && d.Due.IsZero() && d.KeepUntil.IsZero(), "no deadline is stated")
}

// New South Wales: wind speed and direction at the start and on change (L48).
func TestFieldsThatAreMissingAreNamed(t *testing.T) {
	rule := rules.Record{Fields: []string{"Wind speed and  direction at every change", "product and amount", "phase of the moon"}}
	r := done("2025-06-20 10:00", "2025-06-20 12:00")
	assert.Equal(t, rule.Fields, r.Judge(&rule).Missing, "what nobody understands is missing, too")
	for _, fact := range []record.Fact{record.WindStart, record.DirectionStart, record.WindChanges, record.Amount} {
		r.Facts[fact] = true
	}
	assert.Equal(t, []string{"phase of the moon"}, r.Judge(&rule).Missing)
	r.Other = map[string]string{"Phase of the Moon": " "}
	assert.NotEmpty(t, r.Judge(&rule).Missing, "an empty answer is none")
	r.Other = map[string]string{"Phase of the Moon": "waning"}
	assert.Empty(t, r.Judge(&rule).Missing)
}

// Each fact counts: take one away, and a record that was complete is not.
func TestEveryFactIsAskedForByAWord(t *testing.T) {
	all := []string{
		"product and registration number", "lot number", "amount", "place and area", "species", "method", "start and end",
		"applicator's name and certification number", "name of any person supervised", "customer's name and address",
		"wind speed and direction at every change", "temperature and humidity", "posting", "notices given",
	}
	rule := rules.Record{Fields: all}
	full := func() *record.Record {
		r := done("2025-06-20 10:00", "2025-06-20 12:00")
		for fact := record.Product; fact <= record.Told; fact++ {
			r.Facts[fact] = true
		}
		return r
	}
	complete := full().Judge(&rule)
	require.True(t, complete.Complete(), "%v", complete.Missing)
	for fact := record.Product; fact <= record.Told; fact++ {
		r := full()
		r.Facts[fact] = false
		assert.Len(t, r.Judge(&rule).Missing, 1, "fact %d", fact)
	}
}
