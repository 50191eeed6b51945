package command

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"

	"example.org/rootward/client/page"
	"example.org/rootward/client/report"
)

// print shows the verdict, and each limit with its value, its margin and its source.
func (a *checkDay) print(r *run, answer *campaignv1.CheckDayResponse) error {
	p := page.On(r.stdout)
	v := answer.GetVerdict()
	p.Line("%s  %s, job %s, from %s for %d minutes", verdictWord(v), a.Plan, a.Job, a.Time.Format("2006-01-02 15:04 -07:00"), a.DurationMin)
	switch {
	case answer.GetValidUntil() != nil:
		p.Line("Valid until %s", answer.GetValidUntil().AsTime().In(a.Time.Location()).Format("2006-01-02 15:04 -07:00"))
	case v == campaignv1.Verdict_VERDICT_UNKNOWN:
		p.Text("", "Do not begin: what is not known is never allowed. Find out what is UNKNOWN below.")
	default:
		p.Text("", "Do not begin.")
	}
	p.Line("")
	const row = "%-7s  %-25s %8s  %-14s %7s  %s"
	p.Line(row, "VERDICT", "LIMIT", "VALUE", "ALLOWED", "MARGIN", "UNIT")
	for _, c := range answer.GetChecks() {
		c = a.inTyped(c)
		p.Line(row, verdictWord(c.GetVerdict()), c.GetWhat(), figure(c.Value), allowed(c), figure(down(c.Margin)), c.GetUnit())
		if c.GetWhy() != "" {
			p.Text("          ", c.GetWhy())
		}
		p.Text("          [", c.GetSource()+"]")
	}
	if len(answer.GetConditions()) > 0 {
		p.Heading("What to do besides")
	}
	for _, text := range answer.GetConditions() {
		if !slices.Contains(report.Always, text) { // it stands below
			p.Text("- ", text)
		}
	}
	p.Line("")
	warn(p)
	return p.Err()
}

// inTyped gives a check in the units in which wind and air temperature were typed.
func (a *checkDay) inTyped(c *campaignv1.DayCheck) *campaignv1.DayCheck {
	miles := a.WindMph != nil || a.GustMph != nil || a.LabelMaxMph != nil
	fahrenheit := a.TemperatureF != nil || a.LabelMaxF != nil
	switch {
	case miles && c.GetUnit() == "m/s":
		return scaled(c, "mph", 1/mPerSecond, 0)
	case fahrenheit && c.GetUnit() == "°C" && strings.HasPrefix(c.GetWhat(), "temperature"): // delta T is stated in °C everywhere
		return scaled(c, "°F", 1.8, 32)
	}
	return c
}

// scaled converts a check by a factor and, but for the margin, an offset.
func scaled(c *campaignv1.DayCheck, unit string, factor, offset float64) *campaignv1.DayCheck {
	c = proto.CloneOf(c)
	c.Unit = unit
	for _, v := range []*float64{c.Value, c.Min, c.Max} {
		if v != nil {
			*v = *v*factor + offset
		}
	}
	if c.Margin != nil {
		*c.Margin *= factor
	}
	return c
}

func verdictWord(v campaignv1.Verdict) string {
	return strings.ReplaceAll(strings.TrimPrefix(v.String(), "VERDICT_"), "_", " ")
}

// down rounds a margin to the hundredth below: none is shown that is not there.
func down(v *float64) *float64 {
	if v == nil {
		return nil
	}
	below := math.Floor(*v*100+1e-6) / 100
	return &below
}

// figure has two digits behind the point at most; "-" is not known.
func figure(v *float64) string {
	if v == nil {
		return "-"
	}
	text := strconv.FormatFloat(*v, 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

func allowed(c *campaignv1.DayCheck) string {
	switch {
	case c.Min != nil && c.Max != nil:
		return figure(c.Min) + " to " + figure(c.Max)
	case c.Min != nil:
		return "at least " + figure(c.Min)
	case c.Max != nil:
		return "at most " + figure(c.Max)
	}
	return ""
}
