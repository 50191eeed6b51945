package main

import (
	"testing"

	"example.org/rootward/plugins/internal/velmora"
	"example.org/rootward/rules/ruletest"
)

func TestRules(t *testing.T) { ruletest.Run(t, velmora.Draft2027.Table, ".") }
