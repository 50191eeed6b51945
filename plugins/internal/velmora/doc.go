// Package velmora holds the rules of Velmora, a state invented to demonstrate
// regional rule sets. No place has these rules. They have the shape of state law:
// treatment windows, buffers, standing, notice, records, each with limits of
// their own.
//
// The package is shared by the editions of the set, each a plugin of its own, so
// that what changed between two editions is the difference of two values.
package velmora
