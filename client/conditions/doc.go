// Package conditions gathers what the law asks of people around the treatments of
// an inventory: which rows of which rule sets, how many stems they bear on, and
// what kind of thing each asks for. The summary and the field sheet both show it.
package conditions
