// Command high-tarn is the rule set of the High Tarn district, an invented mountain
// district of an invented state. Its windows depend on where in the mountains a site
// lies and on how warm its year was, which a table cannot say.
package main

import "example.org/rootward/rules/rulesdk"

func main() { rulesdk.MainWith(plugin()) }

func plugin() rulesdk.Plugin { return rulesdk.Plugin{Table: table, Evaluate: evaluate} }
