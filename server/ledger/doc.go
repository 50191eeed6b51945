// Package ledger writes the log that a campaign is kept in. Nothing in it is changed or
// removed: a change is another entry of the same name. Each entry is a leaf of a Merkle
// tree, and with each the tree's root is signed in the same transaction, so that what is
// acknowledged can be proven to be there, unchanged, for ever.
//
// What an entry says it does not know. Package recordlog has the form of the log and
// checks it without a server; package store keeps it.
package ledger
