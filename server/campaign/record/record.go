// Package record holds a record of use against what rules ask of it: its fields, when it
// is due and how long it is kept.
//
// Rules name fields in the words of their laws. The table of words says what each asks
// for; a word that is not in it has to be answered under the very same word, and is
// missing otherwise.
package record

import (
	"strings"
	"time"

	"example.org/rootward/rules"
)

// Fact is something that a record can tell.
type Fact uint8

// The facts.
const (
	Product         Fact = iota + 1 // name of the product
	Registration                    // number under which it is registered
	Lot                             // number of the lot
	Amount                          // of product
	Area                            // that was treated
	Place                           // in words or by position
	Site                            // what grows there, the species
	Method                          // of treatment
	Start                           // day and time
	End                             // day and time
	Applicator                      // name
	Certificate                     // number of licence or certificate
	Supervised                      // names of those who were supervised; known where nobody was
	CustomerName                    // for whom
	CustomerAddress                 // where they live
	WindStart                       // speed at the start
	DirectionStart                  // of the wind at the start
	WindChanges                     // speed and direction at each change, and at the end
	Temperature                     // at the start
	Humidity                        // at the start
	Posted                          // when signs were put up
	Told                            // who was told beforehand
)

// words are the phrases that are understood, in lower case.
var words = map[string][]Fact{
	"brand name": {Product}, "product": {Product}, "product name": {Product},
	"epa registration number": {Registration}, "registration number": {Registration},
	"product and registration number": {Product, Registration}, "product and amount": {Product, Amount},
	"lot": {Lot}, "lot number": {Lot},
	"amount": {Amount}, "total amount": {Amount}, "total amount applied": {Amount},
	"area": {Area}, "area treated": {Area}, "size of the area treated": {Area}, "place and area": {Place, Area},
	"place": {Place}, "location": {Place}, "crop, commodity or site": {Site}, "species": {Site}, "target": {Site},
	"method": {Method}, "date": {Start}, "date and time": {Start, End}, "start and end": {Start, End},
	"applicator": {Applicator}, "applicator's name": {Applicator}, "certification number": {Certificate},
	"applicator's name and certification number": {Applicator, Certificate},
	"name of any person supervised":              {Supervised}, "customer's name and address": {CustomerName, CustomerAddress},
	"wind and temperature":                     {WindStart, DirectionStart, Temperature},
	"wind speed and direction":                 {WindStart, DirectionStart},
	"wind speed and direction at the start":    {WindStart, DirectionStart},
	"wind speed and direction at every change": {WindStart, DirectionStart, WindChanges},
	"temperature":                              {Temperature}, "humidity": {Humidity}, "temperature and humidity": {Temperature, Humidity},
	"posting": {Posted}, "notices given": {Told},
}

// Record is what a record tells.
type Record struct {
	Facts map[Fact]bool
	Other map[string]string // by the word of the rule
	Begun time.Time         // in the zone of the place
	Ended time.Time
	Kept  time.Time // when this version was
}

// Duty is what a rule asks of a record.
type Duty struct {
	Fields, Missing []string
	Due             time.Time // zero: no deadline
	OnTime          bool
	KeepUntil       time.Time // zero: not stated
}

// Complete reports whether nothing is missing and it was kept in time.
func (d Duty) Complete() bool { return len(d.Missing) == 0 && d.OnTime }

// Judge holds a record against a rule.
func (r *Record) Judge(rule *rules.Record) Duty {
	d := Duty{Fields: rule.Fields, OnTime: true}
	for _, phrase := range rule.Fields {
		if !r.tells(phrase) {
			d.Missing = append(d.Missing, phrase)
		}
	}
	switch {
	case rule.WithinHours > 0:
		d.Due = r.Ended.Add(time.Duration(rule.WithinHours) * time.Hour)
	case rule.WithinDays > 0:
		d.Due = endOfDay(r.Ended, rule.WithinDays)
	}
	if !d.Due.IsZero() {
		d.OnTime = !r.Kept.After(d.Due)
	}
	if rule.KeepYears > 0 {
		d.KeepUntil = r.Ended.AddDate(rule.KeepYears, 0, 0)
	}
	return d
}

// endOfDay is the last moment of a day so many days on, at the place.
func endOfDay(t time.Time, days int) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day()+days+1, 0, 0, 0, 0, t.Location()).Add(-time.Nanosecond)
}

func (r *Record) tells(phrase string) bool {
	plain := strings.ToLower(strings.Join(strings.Fields(phrase), " "))
	for word, answer := range r.Other {
		if strings.EqualFold(strings.Join(strings.Fields(word), " "), plain) && strings.TrimSpace(answer) != "" {
			return true
		}
	}
	facts, understood := words[plain]
	for _, fact := range facts {
		if !r.Facts[fact] {
			return false
		}
	}
	return understood
}
