// Package ruletest is the conformance kit of a rule plugin's author: one call in
// a test checks the table, and one the built binary.
//
//	func TestTable(t *testing.T)  { ruletest.Check(t, table) }
//	func TestBinary(t *testing.T) { ruletest.CheckBinary(t, ".") }
//
// The package is for tests alone and separate from rulesdk, so that no plugin
// links a test library.
package ruletest
