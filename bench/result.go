package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"text/tabwriter"
	"time"
)

// line is a line of what the program must reach.
type line struct {
	name   string
	goal   float64
	atMost bool // the ratio must not be more than the goal, rather than not less
}

// The lines, in the order of the table.
var (
	decisionLine = line{"decision against straight Go, one goroutine (time)", 2.0, true}
	limitLine    = line{"PrescribeStream against the limit of 2 cores (stems/s)", 0.8, false}
	opaLine      = line{"PrescribeStream against Open Policy Agent (stems/s)", 150, false}
	celLine      = line{"PrescribeStream against cel-go (stems/s)", 3, false}
	sqlLine      = line{"PrescribeStream against PostgreSQL CASE (stems/s)", 1.5, false}
	duckLine     = line{"prescribe CSV to CSV against DuckDB (stems/s)", 2, false}
	postgisLine  = line{"nearest water within 150 m against PostGIS (queries/s)", 50, false}
	errorLine    = line{"distance error against GeographicLib (of what is allowed)", 1, true}
	memoryLine   = line{"peak memory at 10 million rows against 1 million", 1.1, true}
	durableLine  = line{"durable batch against the same streamed (stems/s)", 0.6, false}
	hookLine     = line{"batch with the plugin hook on 1 % of rows against without (stems/s)", 0.9, false}
	startLine    = line{"server start with 3 plugins against the plugins alone (time)", 1.5, true}
	unaryLine    = line{"unary prescription p99 against unary echo p99 (time)", 1.5, true}
)

// result is what was measured for a line.
type result struct {
	line
	ratio    float64 // not a number if it could not be measured
	measured string
	peer     string
	failed   string // what else keeps the goal from being met
	err      error
}

func (l line) missing(err error) result { return result{line: l, ratio: math.NaN(), err: err} }

func (r *result) met() bool {
	switch {
	case r.err != nil || math.IsNaN(r.ratio) || r.failed != "":
		return false
	case r.atMost:
		return r.ratio <= r.goal
	}
	return r.ratio >= r.goal
}

// print writes the table for people.
func print(out io.Writer, results []result) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "what\tmeasured\tpeer\tratio\tgoal\tmet")
	for _, r := range results {
		sign := map[bool]string{true: "at most", false: "at least"}[r.atMost]
		ratio, met := fmt.Sprintf("%.3g", r.ratio), map[bool]string{true: "yes", false: "NO"}[r.met()]
		if math.IsNaN(r.ratio) {
			ratio = "-"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s %g\t%s\n", r.name, r.measured, r.peer, ratio, sign, r.goal, met)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for _, r := range results {
		if r.err != nil {
			fmt.Fprintf(out, "\nnot measured: %s: %v\n", r.name, r.err)
		}
		if r.failed != "" {
			fmt.Fprintf(out, "\n%s: %s\n", r.name, r.failed)
		}
	}
	return nil
}

// file is what is written for programs.
type file struct {
	Machine string    `json:"machine"`
	Date    string    `json:"date"`
	Rows    []fileRow `json:"rows"`
}

type fileRow struct {
	Name  string   `json:"name"`
	Ratio *float64 `json:"ratio"` // null: not measured
	Goal  float64  `json:"goal"`
	Met   bool     `json:"met"`
}

func write(path string, results []result) error {
	f := file{Machine: machine(), Date: time.Now().UTC().Format(time.RFC3339)}
	for _, r := range results {
		row := fileRow{Name: r.name, Goal: r.goal, Met: r.met()}
		if !math.IsNaN(r.ratio) {
			row.Ratio = new(rounded(r.ratio))
		}
		f.Rows = append(f.Rows, row)
	}
	text, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return os.WriteFile(path, append(text, '\n'), 0o644)
}

// rounded keeps four digits: no more was measured.
func rounded(v float64) float64 {
	var r float64
	fmt.Sscanf(fmt.Sprintf("%.4g", v), "%g", &r)
	return r
}

// machine names what the run was made on.
func machine() string {
	name := "unknown processor"
	text, _ := os.ReadFile("/proc/cpuinfo")
	for l := range strings.Lines(string(text)) {
		if key, value, ok := strings.Cut(l, ":"); ok && strings.TrimSpace(key) == "model name" {
			name = strings.TrimSpace(value)
			break
		}
	}
	kernel, _ := exec.Command("uname", "-sr").Output()
	return fmt.Sprintf("%d cores of %s, %s, %s", min(cores, runtime.NumCPU()), name, strings.TrimSpace(string(kernel)), runtime.Version())
}
