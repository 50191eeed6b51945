package main

import (
	"testing"

	"example.org/rootward/plugins/internal/velmora"
	"example.org/rootward/rules/ruletest"
)

func TestRules(t *testing.T) { ruletest.Run(t, velmora.Edition2024.Table, ".") }
