// Package rules says what a rule set is: the vocabulary in which rules are
// written, the table of rows that a rule set compiles to, and how the rows of
// several layers of law decide together.
//
// A row can only restrict. Of two decisions the stricter holds, in the order
// ALLOWED, CONDITIONAL, UNDETERMINED, PROHIBITED; a fact that is not known
// never counts as favourable. The package imports the standard library and its
// own two subpackages alone, reads no clock and no file, and knows neither the
// wire format nor the plugins that deliver tables.
package rules
