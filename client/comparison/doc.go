// Package comparison holds the answers to one inventory under an old law against
// those under a new one.
package comparison
