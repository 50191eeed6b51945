package treatment_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files anew")

const tableFile = "../../docs/decision-table.md"

// The table in the documents is what the code decides, not what someone thinks
// that it decides.
func TestDecisionTable(t *testing.T) {
	got := decisionTable(t)
	if *update {
		require.NoError(t, os.WriteFile(tableFile, got, 0o644))
	}
	want, err := os.ReadFile(tableFile)
	require.NoError(t, err)
	require.True(t, bytes.Equal(want, got), "%s is not what the code decides; run go test ./server/treatment -run DecisionTable -update and look at the change", tableFile)
}

// size is a column of the table.
type size struct {
	name         string
	inches, feet float64
}

var sizes = []size{{"0.5 in, 5 ft", 0.5, 5}, {"0.5 in, 15 ft", 0.5, 15}, {"3 in, 20 ft", 3, 20}, {"6 in, 40 ft", 6, 40}, {"6.1 in, 40 ft", 6.1, 40}, {"12 in, 60 ft", 12, 60}}

func decisionTable(t *testing.T) []byte {
	var b bytes.Buffer
	fmt.Fprint(&b, `# Which method for which stem

Written by the program itself (`+"`go test ./server/treatment -run DecisionTable -update`"+`); do not edit.
For each species, form and size: the method that comes first on 10 August and on
10 January, in a place whose rules open root-suckerers from 15 July to 15 October
and forbid nothing else, with nothing near that must be spared, moist soil, dry
bark, a taproot where a seedling was checked, and the whole catalogue at hand. A
rule set can only take away from this.

`)
	for _, s := range shipped(t).Species {
		fmt.Fprintf(&b, "## %s (%s), root suckering %s\n\n| form |", s.Name, s.Common, s.Suckering)
		for _, z := range sizes {
			fmt.Fprintf(&b, " %s |", z.name)
		}
		fmt.Fprintf(&b, "\n|---|%s\n", strings.Repeat("---|", len(sizes)))
		for _, form := range rules.Words[rules.GrowthForm]() {
			fmt.Fprintf(&b, "| %s |", words(form.String()))
			for _, z := range sizes {
				fmt.Fprintf(&b, " %s |", cell(t, s.Name, form, z))
			}
			fmt.Fprintln(&b)
		}
		fmt.Fprintln(&b)
	}
	return b.Bytes()
}

func cell(t *testing.T, name string, form rules.GrowthForm, z size) string {
	s := with(stem(form, z.inches, z.feet), species(name), func(s *treatment.Stem) { s.RootCheck = rules.Taproot })
	if form == rules.Stump {
		s.Height = quantity.Foot
	}
	august := first(t, "2026-08-10", s)
	january := first(t, "2027-01-10", s)
	if january == august {
		return august
	}
	return august + "; in January " + january
}

func first(t *testing.T, date string, s treatment.Stem) string {
	plan, e := prescribe(t, law(t, date), s)
	if e.Choice == nil {
		return "none"
	}
	text := words(e.Choice.Method.String())
	if e.Choice.Formulation != nil {
		text += " (" + e.Choice.Formulation.Active + ")"
	}
	if plan.Outcome == treatment.Deferred {
		_, month, day := e.Dates.TreatFrom.Parts()
		return fmt.Sprintf("wait until %d %s", day, month)
	}
	return text
}

func words(s string) string { return strings.ReplaceAll(s, "_", " ") }
