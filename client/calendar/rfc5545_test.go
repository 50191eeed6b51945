package calendar_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/types/known/timestamppb"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"

	"example.org/rootward/client/calendar"
)

func on(month, day int32) *date.Date { return &date.Date{Year: 2026, Month: month, Day: day} }

func plan() *campaignv1.Plan {
	return &campaignv1.Plan{
		Name: "plans/summer", UpdateTime: timestamppb.New(time.Date(2026, 7, 3, 12, 0, 0, 0, time.UTC)),
		Jobs: []*campaignv1.Job{{JobId: "bank-1", Site: "sites/bank", Conditions: []string{"wind at least 3, at most 10 mph; not in rain, fog or " + strings.Repeat("very ", 30) + "still air – see the label"}}},
		Shifts: []*campaignv1.Shift{
			{Date: on(7, 31), CrewId: "a", JobId: "bank-1", Hours: 6, Stems: 40},
			{Date: on(8, 1), CrewId: "a", JobId: "bank-1", Spare: true},
		},
		Notices:       []*campaignv1.PlannedNotice{{JobId: "bank-1", To: "neighbours within 150 ft", WorkDate: on(7, 31), SendFrom: on(7, 10), SendUntil: on(7, 24), RainDates: []*date.Date{on(8, 1)}, Source: "a rule"}},
		WantedPermits: []*campaignv1.PlannedPermit{{JobId: "bank-1", Permit: "water permit", From: "the agency", NeededBy: on(7, 31), Source: "a rule"}},
	}
}

// event is a VEVENT as RFC 5545 has it, by this test's own reading of sections 3.1
// (lines end in CRLF, at most 75 octets, a space begins what is folded) and 3.3.11 (text).
type event map[string]string

func read(t *testing.T, text string) (events []event) {
	t.Helper()
	require.True(t, strings.HasSuffix(text, "\r\n"))
	assert.NotContains(t, strings.ReplaceAll(text, "\r\n", ""), "\n", "no line ends in LF alone")
	for _, line := range strings.Split(text, "\r\n") {
		assert.LessOrEqual(t, len(line), 75, "octets of %q", line)
	}
	unfolded := strings.ReplaceAll(text, "\r\n ", "")
	var e event
	for _, line := range strings.Split(strings.TrimSuffix(unfolded, "\r\n"), "\r\n") {
		name, value, ok := strings.Cut(line, ":")
		require.True(t, ok, line)
		switch line {
		case "BEGIN:VEVENT":
			e = event{}
		case "END:VEVENT":
			events, e = append(events, e), nil
		default:
			if e != nil {
				require.NotContains(t, e, name, "once")
				e[name] = strings.NewReplacer(`\n`, "\n", `\,`, ",", `\;`, ";", `\\`, `\`).Replace(value)
			}
		}
	}
	return events
}

func TestAPlanAsACalendar(t *testing.T) {
	var once, twice bytes.Buffer
	require.NoError(t, calendar.Write(&once, plan()))
	require.NoError(t, calendar.Write(&twice, plan()))
	assert.Equal(t, once.String(), twice.String(), "the same whenever it is written")
	assert.True(t, strings.HasPrefix(once.String(), "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n"))
	events := read(t, once.String())
	require.Len(t, events, 4)
	uids := map[string]bool{}
	for _, e := range events {
		uids[e["UID"]] = true
		assert.Equal(t, "20260703T120000Z", e["DTSTAMP"])
	}
	assert.Len(t, uids, 4)
	work := events[0]
	assert.Equal(t, "20260731", work["DTSTART;VALUE=DATE"])
	assert.Equal(t, "20260801", work["DTEND;VALUE=DATE"], "the first day after it")
	assert.Contains(t, work["DESCRIPTION"], "Condition: wind at least 3, at most 10 mph; not in rain")
	assert.Contains(t, work["DESCRIPTION"], "still air – see the label\nCheck the day")
	assert.Contains(t, events[1]["SUMMARY"], "Rain day")
	assert.Equal(t, []string{"20260710", "20260725"}, []string{events[2]["DTSTART;VALUE=DATE"], events[2]["DTEND;VALUE=DATE"]}, "as long as it may be sent")
	assert.Contains(t, events[2]["DESCRIPTION"], "Rain date: 2026-08-01")
	assert.Contains(t, events[3]["SUMMARY"], "water permit")
}
