package main

import (
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

var water = rules.AnyOf(rules.PerennialStream)

var _ = []rulesdk.Rule{
	rulesdk.Row("stream").Purpose("No leaf is sprayed near a stream.").Citation("section 4").From(2026, time.May, 1).
		Then(rules.Buffer{Water: water, From: rules.BankTop}, feet*1.5),
}

func main() { _ = time.May }

const feet = 100
