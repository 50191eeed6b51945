// Package rulesdk is the kit of a rule plugin's author. A plugin is one function
// that gives the table and one line of main:
//
//	func main() { rulesdk.Main(table) }
//
// A plugin whose table has rows that need computing for each site brings a function
// for them along: rulesdk.MainWith(rulesdk.Plugin{Table: table, Evaluate: evaluate}).
//
// The kit answers --describe, serves the table to a host, keeps a panic of the
// author's code from reaching the host as anything but an error, and ends the
// process when its host is gone. It never writes to standard output except for
// --describe and the handshake; logs go to standard error.
//
// The package is separate from rules because it brings gRPC along,
// which nothing that only evaluates rules should need.
package rulesdk
