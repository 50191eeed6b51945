// Command federal is the rule set of United States federal law.
package main

import "example.org/rootward/rules/rulesdk"

func main() { rulesdk.Main(table) }
