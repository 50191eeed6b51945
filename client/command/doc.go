// Package command is the command line. It is apart from its main package so that
// tests can run it in their own process.
//
// It exits with 0 when every row was answered, even if some were rejected, with 1
// on failure, with 2 when the command line itself is wrong, and with 3 when the
// command day says that work must not begin.
package command
