// Package rulewire converts rule tables, and what they are evaluated on, between
// package rules and the wire format of rootward.ruletable.v1.
//
// Reading is strict: a word, an effect or a field that this program does not
// know is an error that names the row, because a restriction that cannot be read
// must not be skipped. Writing cannot fail; whatever it cannot express is left
// out where reading refuses the absence.
//
// The package is separate because the host, the plugins and the API convert the
// same messages, while package rules knows no wire format.
package rulewire
