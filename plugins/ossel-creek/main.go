// Command ossel-creek is the rule set of the Ossel Creek watershed district, an
// invented district of an invented state.
package main

import "example.org/rootward/rules/rulesdk"

func main() { rulesdk.Main(table) }
