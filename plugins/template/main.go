// Command template is a rule set to copy: it holds the rules of New District, an
// invented district of an invented state, one of each of the commonest kinds.
//
// `make plugin NAME=my-district` copies it, and docs/authors-guide.md goes on from
// there.
package main

import "example.org/rootward/rules/rulesdk"

func main() { rulesdk.Main(table) }
