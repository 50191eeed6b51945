package api

import (
	"fmt"
	"slices"

	"google.golang.org/genproto/googleapis/type/date"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/season"
)

// noticeDays is how long before the work somebody has to be told.
func (j *planned) noticeDays() int {
	days := 0
	for _, e := range j.effects {
		if n, ok := e.Effect.(rules.Notice); ok {
			days = max(days, n.MinDays)
		}
	}
	return days
}

// documents names the notices and permits of a job by the days on which it is worked on.
func (w *planning) documents(j *planned, shifts []season.Shift) {
	var days, spare []civil.Date
	for _, s := range shifts {
		switch {
		case s.Job != j.GetJobId():
		case s.Spare:
			spare = append(spare, s.Day)
		default:
			days = append(days, s.Day)
		}
	}
	if len(days) == 0 {
		days = []civil.Date{j.from} // nobody has the time, and still it has to be told
	}
	slices.Sort(days)
	days = slices.Compact(days)
	for _, e := range j.effects {
		switch rule := e.Effect.(type) {
		case rules.Notice:
			w.notices(j, &rule, e.source, days, spare)
		case rules.Permit:
			w.permit(j, &rule, e.source, append(slices.Clone(days), spare...))
		}
	}
}

// notices tells of the work days of a job: one notice for as many of them as lie within
// the time for which it may be given.
func (w *planning) notices(j *planned, n *rules.Notice, source string, days, spare []civil.Date) {
	for len(days) > 0 {
		first, covered := days[0], len(days)
		if n.MaxDays > 0 {
			last := first.AddDays(n.MaxDays - n.MinDays)
			covered = slices.IndexFunc(append(slices.Clone(days), last.AddDays(1)), func(d civil.Date) bool { return d > last })
		}
		p := &campaignv1.PlannedNotice{
			JobId: j.GetJobId(), To: n.To, By: n.By, WorkDate: rulewire.EncodeDate(first), Source: source,
			SendUntil: rulewire.EncodeDate(first.AddDays(-n.MinDays)),
		}
		from := civil.Date(0)
		if n.MaxDays > 0 {
			from = days[covered-1].AddDays(-n.MaxDays)
			p.SendFrom = rulewire.EncodeDate(from)
		}
		if n.MinDays > 0 && first.AddDays(-n.MinDays) < w.today {
			p.Remark = "it is too late for this notice: move the work"
		}
		p.RainDates = rainDates(n, first, spare)
		if n.RainDates > 0 && len(p.GetRainDates()) == 0 {
			p.Remark = join(p.GetRemark(), "no spare day can be named as a rain date: a day lost to rain needs a new notice")
		}
		if covered > 1 {
			p.Remark = join(p.GetRemark(), fmt.Sprintf("it is for the work of %s to %s", first, days[covered-1]))
		}
		w.Notices = append(w.Notices, p)
		days = days[covered:]
	}
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// rainDates are the spare days that a notice may name: as many as the rule lets it, and
// none that lies too long after it.
func rainDates(n *rules.Notice, first civil.Date, spare []civil.Date) []*date.Date {
	var list []*date.Date
	for _, day := range spare {
		if day > first && len(list) < n.RainDates && (n.MaxDays == 0 || day <= first.AddDays(n.MaxDays-n.MinDays)) {
			list = append(list, rulewire.EncodeDate(day))
		}
	}
	return list
}

// permit names a document that is not in hand for all days of the work.
func (w *planning) permit(j *planned, r *rules.Permit, source string, days []civil.Date) {
	last := slices.Max(days)
	for _, held := range w.GetPermits() {
		until, _ := rulewire.DecodeDate(held.GetValidUntil())
		if held.GetPermit() == r.Name && (held.GetSite() == "" || held.GetSite() == j.GetSite()) && (!until.Known() || until >= last) {
			return
		}
	}
	w.WantedPermits = append(w.WantedPermits, &campaignv1.PlannedPermit{
		JobId: j.GetJobId(), Permit: r.Name, From: r.From, NeededBy: rulewire.EncodeDate(slices.Min(days)), Source: source,
	})
}
