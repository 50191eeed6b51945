package main

import (
	"testing"

	"example.org/rootward/rules/ruletest"
)

// The conformance kit: the table is valid, its cases show every rule and every
// limit, and the built plugin behaves as a host asks.
func TestRules(t *testing.T) { ruletest.Run(t, table, ".") }
