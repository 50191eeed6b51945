package main

import (
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

var water = rules.AnyOf(rules.PerennialStream)

var _ = []rulesdk.Rule{
	rulesdk.Row("large-stems").Purpose("Large stems are not sprayed.").Citation("section 5").From(2026, time.May, 1).
		Where(rulesdk.Above(rules.Diameter, 6)).
		Then(rules.Prohibit{}),
}

func main() { _ = time.May }
