// Command velmora is the rule set of Velmora, an invented state, in the edition
// that is in force.
package main

import (
	"example.org/rootward/plugins/internal/velmora"
	"example.org/rootward/rules/rulesdk"
)

func main() { rulesdk.Main(velmora.Edition2024.Table) }
