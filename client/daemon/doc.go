// Package daemon runs a server of one's own for as long as one command lasts: on
// a unix socket in a folder that nobody else can enter, ended by the end of its
// standard input, so that it never outlives the command, even a killed one.
package daemon
