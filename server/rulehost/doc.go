// Package rulehost starts the rule plugins of a folder, takes the rule table of
// each, and keeps the tables that may decide as one catalog.
//
// A plugin runs only until its table was taken: what happens to it afterwards
// changes no decision. A plugin that does not start, does not answer in time or
// gives a table that does not load is named in the catalog with the reason and
// the remedy, and keeps no other from loading. Since the law of a place that has
// no table is not known, every decision there is UNDETERMINED.
//
// A plugin is a process with all the rights of the server. The folder must be
// writable by nobody but the operator.
package rulehost
