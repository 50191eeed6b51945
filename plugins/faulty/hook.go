package main

import (
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"time"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

// high is the elevation above which these plugins do wrong; below it they answer.
const high = 1_000 * quantity.Metre

// hookFaults are the faults of plugins that compute rows.
var hookFaults = map[string]func(name string){
	"hook-sound":     computing(func(string) {}),
	"hook-panics":    computing(func(string) { panic("on the summit") }),
	"hook-crashes":   computing(func(string) { os.Exit(7) }),
	"hook-hangs":     computing(forever),
	"hook-stops":     computing(stopForGood),
	"hook-chatters":  computing(chatterAtLength),
	"hook-fills":     computing(fillSocketFolder),
	"hook-dies-idle": computing(dieIdle),
	"hook-garbled":   answering(garble),
	"hook-floods":    answering(flood),
}

func init() { maps.Copy(faults, hookFaults) }

// hooked is a plugin with two computed rows, of which one does something first where
// a site is high.
func hooked(name string, do func(name string)) rulesdk.Plugin {
	return rulesdk.Plugin{
		Table: func() rules.Table { return hookedTable(name) },
		Evaluate: func(_ context.Context, row string, _ civil.Date, sites []rules.SiteFacts) ([]rules.Answer, error) {
			fmt.Fprintln(os.Stderr, "process", os.Getpid(), "computes", row, "at", len(sites))
			answers := make([]rules.Answer, len(sites))
			for i, s := range sites {
				if row == "summits" && s.Elevation > high {
					do(name)
				}
				answers[i] = rules.Answer{Kind: rules.OpenDuring, Open: inSummer, Words: "in summer"}
			}
			return answers, nil
		},
	}
}

var inSummer = civil.Window{From: civil.DayOfYear{Month: time.July, Day: 1}, To: civil.DayOfYear{Month: time.September, Day: 30}}

func hookedTable(name string) rules.Table {
	t := table(name)
	row := t.Rows[0]
	row.Effect = rules.Computed{Method: "a method for tests", Needs: rules.AnyOf(rules.FactElevation)}
	row.ID = "summits"
	t.Rows = []rules.Row{row, row}
	t.Rows[1].ID = "valleys"
	t.Cases = nil // what a computed row says is not in a table
	return t
}

func computing(do func(name string)) func(string) {
	return func(name string) { rulesdk.MainWith(hooked(name, do)) }
}

// answering changes each answer before it is sent.
func answering(change func(*pluginv1.RuleAnswers)) func(string) {
	return func(name string) {
		sound := hooked(name, func(string) {})
		if describing() {
			rulesdk.MainWith(sound)
		}
		serve(&changedAnswers{rulesdk.ServiceWith(sound, stderr), change})
	}
}

type changedAnswers struct {
	pluginv1.RulePluginServiceServer
	change func(*pluginv1.RuleAnswers)
}

// EvaluateSites implements rootward.plugin.v1.RulePluginService.
func (c *changedAnswers) EvaluateSites(ctx context.Context, q *pluginv1.EvaluateSitesRequest) (*pluginv1.EvaluateSitesResponse, error) {
	res, err := c.RulePluginServiceServer.EvaluateSites(ctx, q)
	for i, e := range q.GetSites().GetElevationCm() {
		if err == nil && quantity.Micrometres(e)*quantity.Centimetre > high && res.Rules[0].RuleId == "summits" && i == 0 {
			c.change(res.Rules[0])
		}
	}
	return res, err
}

// garble opens a site on no day of any year.
func garble(a *pluginv1.RuleAnswers) { a.FromMmdd[0] = 231 }

// flood answers more than any host takes.
func flood(a *pluginv1.RuleAnswers) { a.Words = append(a.Words, strings.Repeat("x", 5<<20)) }

// chatterAtLength writes a line that looks like a log entry, one that would clear a
// terminal, and very many.
func chatterAtLength(string) {
	fmt.Fprintln(os.Stderr, `{"@message":1}`)
	for i := range 5_000 {
		fmt.Fprintln(os.Stderr, "line", i, strings.Repeat("x", 1_000))
	}
	fmt.Fprintln(os.Stderr, "\x1b[2Jthe last line")
}

// fillSocketFolder makes files where only its socket belongs.
func fillSocketFolder(string) {
	for i := range 1_000 {
		f, err := os.Create(filepath.Join(os.Getenv("PLUGIN_UNIX_SOCKET_DIR"), fmt.Sprint(i)))
		if err != nil {
			panic(err)
		}
		f.Close()
	}
	forever("")
}

// stopForGood has the kernel stop the process before it could answer.
func stopForGood(name string) {
	stop(name)
	forever(name)
}

// dieIdle ends the process once it has answered.
func dieIdle(string) { time.AfterFunc(20*time.Millisecond, func() { os.Exit(0) }) }
