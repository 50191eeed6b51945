// Package tabletext reads and writes rule tables as YAML, for agencies that do not
// write Go. It can say everything that rows in Go can; docs/table-file.md is the
// format.
//
// Reading is strict and gathers everything that is wrong, each with its line and
// column, what was found, what is allowed and how to mend it. A text is accepted
// only when the table it holds is valid and its worked cases give what they say.
package tabletext
