// Package app is the server program: its flags, what it is wired from, and the
// order in which it starts and drains. It is separate from the command so that
// tests can run the whole program.
package app
