// Package question is what the bench asks of everyone: what becomes of a stem, and by
// which of seven treatments, under the rules of the demonstration's three layers on 10
// August 2026, for a certified crew that has two formulations at hand.
//
// The core answers it from tables. For the peers the same logic is written down once
// more, as an expression that is rendered in the language of each; a test holds the
// expression, its renderings and the straight Go against the core, row by row.
package question
