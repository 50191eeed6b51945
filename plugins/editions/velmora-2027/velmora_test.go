package main

import (
	"testing"

	"example.org/rootward/plugins/internal/velmora"
	"example.org/rootward/rules/ruletest"
)

func TestTable(t *testing.T)  { ruletest.Check(t, velmora.Draft2027.Table) }
func TestBinary(t *testing.T) { ruletest.CheckBinary(t, ".") }
