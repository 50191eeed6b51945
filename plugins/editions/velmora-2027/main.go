// Command velmora-2027 is the draft of the next edition of the rule set of
// Velmora, an invented state. It has the id of the edition in force: it takes its
// place, and a server refuses both when it finds both.
package main

import (
	"example.org/rootward/plugins/internal/velmora"
	"example.org/rootward/rules/rulesdk"
)

func main() { rulesdk.Main(velmora.Draft2027.Table) }
