// Package rulerelease holds the three texts that decide which build of a rule
// set may run: the release, in which an agency names a build and signs it; the
// trust file, in which the operator says whose word counts for which places; and
// the lock, which pins what is active and keeps what was before.
//
// It is apart from the server because agencies sign and operators pin on machines
// without one.
package rulerelease
