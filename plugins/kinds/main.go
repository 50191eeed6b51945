// Command kinds is the rule set of the Marl Fen district, an invented district of an
// invented state. It holds one rule of each kind that the laws of several countries
// have, to be read beside one's own law and copied from: nobody's law is in it.
//
// The comment beside a rule names the public source whose kind it follows. Where the
// rule takes a number from that source the comment says so; every other number is
// invented, as is all of the wording.
package main

import "example.org/rootward/rules/rulesdk"

func main() { rulesdk.Main(table) }
