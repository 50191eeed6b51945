// Package calendar writes a plan as iCalendar (RFC 5545), for the calendars that people
// have anyway: a crew's days, what has to be sent by when, and documents that are wanted.
package calendar

import (
	"crypto/sha256"
	"fmt"
	"io"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"
	"google.golang.org/genproto/googleapis/type/date"

	"example.org/rootward/client/wording"
	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
)

// Write writes the events of a plan. Each lasts whole days, as they are at the place, and
// has the same UID whenever it is written again.
func Write(w io.Writer, p *campaignv1.Plan) error {
	c := &writer{Calendar: ics.NewCalendarFor("example.org/rootward"), plan: p}
	c.SetMethod(ics.MethodPublish)
	c.SetName(p.GetName())
	jobs := map[string]*campaignv1.Job{}
	for _, j := range p.GetJobs() {
		jobs[j.GetJobId()] = j
	}
	for _, s := range p.GetShifts() {
		c.shift(s, jobs[s.GetJobId()])
	}
	for _, n := range p.GetNotices() {
		c.notice(n)
	}
	for _, d := range p.GetWantedPermits() {
		c.event("permit "+d.GetJobId()+d.GetPermit(), d.GetNeededBy(), d.GetNeededBy(), "In hand by today: "+d.GetPermit(),
			fmt.Sprintf("For %s, from %s. %s", d.GetJobId(), d.GetFrom(), d.GetSource()))
	}
	return c.SerializeTo(w, ics.WithNewLineWindows) // RFC 5545, 3.1: CRLF
}

type writer struct {
	*ics.Calendar
	plan *campaignv1.Plan
}

func (c *writer) shift(s *campaignv1.Shift, j *campaignv1.Job) {
	id := "shift " + s.GetCrewId() + s.GetJobId() + dayOf(s.GetDate()).String()
	if s.GetSpare() {
		c.event(id, s.GetDate(), s.GetDate(), fmt.Sprintf("Rain day of %s, crew %s", s.GetJobId(), s.GetCrewId()), "Kept free for what rain has put off.")
		return
	}
	words := []string{fmt.Sprintf("%s, %.1f person-hours at %s.", wording.Count(s.GetStems(), "stem"), s.GetHours(), j.GetSite())}
	for _, condition := range j.GetConditions() {
		words = append(words, "Condition: "+condition)
	}
	words = append(words, "Check the day before work begins, and follow the label.")
	c.event(id, s.GetDate(), s.GetDate(), fmt.Sprintf("%s, crew %s", s.GetJobId(), s.GetCrewId()), strings.Join(words, "\n"))
}

func (c *writer) notice(n *campaignv1.PlannedNotice) {
	from := n.GetSendFrom()
	if from == nil {
		from = n.GetSendUntil()
	}
	words := []string{fmt.Sprintf("For the work of %s on %s. %s", n.GetJobId(), dayOf(n.GetWorkDate()), n.GetSource())}
	for _, d := range n.GetRainDates() {
		words = append(words, "Rain date: "+dayOf(d).String())
	}
	if n.GetRemark() != "" {
		words = append(words, n.GetRemark())
	}
	c.event("notice "+n.GetJobId()+n.GetTo()+dayOf(n.GetWorkDate()).String(), from, n.GetSendUntil(), "Send notice to "+n.GetTo(), strings.Join(words, "\n"))
}

// event adds whole days, the last one included. Its id need only be unique in the plan.
func (c *writer) event(id string, from, until *date.Date, title, words string) {
	sum := sha256.Sum256([]byte(c.plan.GetName() + "\x00" + id))
	e := c.AddEvent(fmt.Sprintf("%x@rootward.example.org", sum[:16]))
	e.SetDtStampTime(c.plan.GetUpdateTime().AsTime())
	e.SetAllDayStartAt(dayOf(from).Time)
	e.SetAllDayEndAt(dayOf(until).AddDate(0, 0, 1)) // the first day that it does not last
	e.SetSummary(title)
	e.SetDescription(words)
}

// day is a date at the place.
type day struct{ time.Time }

func (d day) String() string { return d.Format(time.DateOnly) }

func dayOf(p *date.Date) day {
	return day{time.Date(int(p.GetYear()), time.Month(p.GetMonth()), int(p.GetDay()), 0, 0, 0, 0, time.UTC)}
}
