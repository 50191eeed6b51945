package main

import (
	"testing"

	"example.org/rootward/plugins/internal/velmora"
	"example.org/rootward/rules/ruletest"
)

func TestTable(t *testing.T)  { ruletest.Check(t, velmora.Edition2024.Table) }
func TestBinary(t *testing.T) { ruletest.CheckBinary(t, ".") }
