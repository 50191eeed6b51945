// Package ruletest is the conformance kit of a rule plugin's author. One line in a
// test is all of it:
//
//	func TestRules(t *testing.T) { ruletest.Run(t, table, ".") }
//
// Check is its part on the table, CheckBinary that on the built plugin, and
// CheckExecutable that on a plugin that was built elsewhere, in whatever language.
// Found gives what the kit finds, to those who want to know and not to fail.
//
// The package is for tests alone and separate from rulesdk, so that no plugin
// links a test library.
package ruletest
