package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"time"
)

// insert puts text between the two marks of a part of the document, so that what it
// says is what was measured.
func insert(path, part, text string) error {
	whole, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	from, to := "<!-- "+part+" -->\n", "<!-- end of "+part+" -->"
	before, rest, opened := strings.Cut(string(whole), from)
	_, after, closed := strings.Cut(rest, to)
	if !opened || !closed {
		return fmt.Errorf("%s has no part between %q and %q", path, strings.TrimSpace(from), to)
	}
	return os.WriteFile(path, []byte(before+from+text+to+after), 0o644)
}

// table gives the results for the document.
func table(results []result) string {
	var w strings.Builder
	fmt.Fprintf(&w, "Measured on %s, %s UTC.\n\n", machine(), time.Now().UTC().Format("2006-01-02 15:04"))
	fmt.Fprintln(&w, "| what | measured | against | ratio | goal | met |\n|---|---|---|---|---|---|")
	for _, r := range results {
		sign := map[bool]string{true: "at most", false: "at least"}[r.atMost]
		ratio, met := fmt.Sprintf("%.3g", r.ratio), map[bool]string{true: "yes", false: "**no**"}[r.met()]
		if math.IsNaN(r.ratio) {
			ratio, met = "not measured", "**no**"
		}
		fmt.Fprintf(&w, "| %s | %s | %s | %s | %s %g | %s |\n", r.name, r.measured, r.peer, ratio, sign, r.goal, met)
	}
	return w.String()
}

// printGrowth writes the table of growth.
func printGrowth(w io.Writer, all []*growth) {
	fmt.Fprintf(w, "Measured on %s, %s UTC.\n\n", machine(), time.Now().UTC().Format("2006-01-02 15:04"))
	fmt.Fprintln(w, "| time for one | cores | by size | the whole grows with the power |\n|---|---|---|---|")
	for _, g := range all {
		list := make([]string, len(g.sizes))
		for i, n := range g.sizes {
			list[i] = fmt.Sprintf("%d: %s", n, nanoseconds(g.each[i]))
		}
		fmt.Fprintf(w, "| %s | %d | %s | %.2f |\n", g.what, *usedCores, strings.Join(list, ", "), g.exponent())
	}
}
