package rules_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// The law of these tests is invented. It holds from lawFrom on; midsummer is a
// day on which it is in force.
var (
	lawFrom   = civil.Of(2025, time.January, 1)
	midsummer = civil.Of(2026, time.July, 20)
)

// validTable is a table in which nothing is wrong.
func validTable(rows ...rules.Row) rules.Table {
	if len(rows) == 0 {
		rows = []rules.Row{row("caution", rules.Warn{Message: "take care"})}
	}
	return rules.Table{
		Manifest: rules.Manifest{
			ID: "nation", Version: "1", Title: "Law of the nation", Publisher: "Invented agency",
			Layer: rules.Federal, Scope: "us", ValidFrom: lawFrom,
		},
		Rows: rows,
	}
}

// row is a row that applies to everything.
func row(id string, effect rules.Effect) rules.Row {
	return rules.Row{ID: id, Purpose: "Stands for a rule.", Citation: "invented", ValidFrom: lawFrom, Effect: effect}
}

// when is row with a selector.
func when(id string, selector rules.Selector, effect rules.Effect) rules.Row {
	r := row(id, effect)
	r.When = selector
	return r
}

func mustSet(tb testing.TB, t rules.Table) *rules.Set {
	tb.Helper()
	set, err := rules.NewSet(t)
	require.NoError(tb, err)
	return set
}

// setOf makes a set of a layer for a place.
func setOf(tb testing.TB, id string, layer rules.Layer, scope string, rows ...rules.Row) *rules.Set {
	tb.Helper()
	table := validTable(rows...)
	table.Manifest.ID, table.Manifest.Layer, table.Manifest.Scope = id, layer, scope
	return mustSet(tb, table)
}

// decide asks the rows alone, as the law of the nation, on midsummer.
func decide(tb testing.TB, t rules.Treatment, s rules.Surroundings, rows ...rules.Row) rules.Decision {
	tb.Helper()
	return narrow(tb, t, rows...).Decide(&s)
}

func narrow(tb testing.TB, t rules.Treatment, rows ...rules.Row) *rules.Narrowed {
	tb.Helper()
	return rules.Govern("us", midsummer, []*rules.Set{mustSet(tb, validTable(rows...))}).Narrow(t)
}

func window(fromMonth time.Month, fromDay int, toMonth time.Month, toDay int) civil.Window {
	return civil.Window{From: civil.DayOfYear{Month: fromMonth, Day: fromDay}, To: civil.DayOfYear{Month: toMonth, Day: toDay}}
}
