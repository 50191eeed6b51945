// Package rulehost keeps the releases of rule sets that lie in a folder, and which
// of them decide.
//
// A file is hashed by the descriptor that is later executed, and runs only if
// agencies that trust.yaml trusts have signed that very content, or the operator
// named it. It then runs confined, until it has given its table twice; what happens
// to it afterwards changes no decision but those of rows that it computes. A table
// that is valid, is what was signed and passes its own worked cases is admitted. It
// decides once rules.lock pins it.
//
// All that a host knows lies in one snapshot that does not change. Activate, RollBack
// and Retire write rules.lock and then put another snapshot in its place, so that a
// request sees one law from its begin to its end.
//
// What is pinned and cannot be loaded is named with the reason and the remedy, and
// keeps no other from loading. Since the law of a place whose table is missing is
// not known, every decision there is UNDETERMINED.
package rulehost
