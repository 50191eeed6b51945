// Package store keeps what outlives a server: batches with their chunks and answers,
// the queue of jobs over them, and the log of campaigns. One database holds all of it, so that a backup of
// it is a backup of everything: a SQLite file in a folder that one server owns, or a
// PostgreSQL database that several servers share.
//
// It is apart from packages batch and ledger, which say what it must keep, so that their
// rules are read without SQL.
package store
