package main

import (
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

var water = rules.AnyOf(rules.PerennialStream)

var _ = []rulesdk.Rule{
	rulesdk.Row("stream").Purpose("No leaf is sprayed near a stream.").Citation("section 4").
		Then(rules.Buffer{Water: water, From: rules.BankTop}, 100*quantity.Foot),
}

func main() { _ = time.May }
