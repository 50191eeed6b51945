// Package command is the command line. It is apart from its main package so that
// tests can run it in their own process.
//
// It exits with 0 when every row was answered, even if some were rejected, with 1
// on failure, with 2 when the command line itself is wrong, with 3 when the
// command day says that work must not begin, and with 4 when a batch that it waited
// for has ended without results.
package command
