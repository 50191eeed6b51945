// Package civil holds calendar dates without a time of day or a zone, and the
// yearly windows that rules are written in. The caller says in which zone a
// date is meant; nothing here reads a clock.
//
// The package is separate so that rule tables and the treatment core can share
// dates without either depending on the other.
package civil
