// Package recordlog is the form of the log of a campaign, and the check that nothing in
// it was changed or removed. It needs no server: who has an archive and the log's public
// key checks it, and with a checkpoint that was kept elsewhere shows that everything from
// before it is still there.
//
// An entry is one line of JSON. The lines are the leaves of a Merkle tree as RFC 6962
// has it (golang.org/x/mod/sumdb/tlog). A checkpoint states origin, size and root of the
// tree, a line each, as the C2SP specification tlog-checkpoint has it, and is signed as
// a note (golang.org/x/mod/sumdb/note).
//
// An archive is a folder:
//
//	checkpoint      the last signed checkpoint
//	entries.jsonl   the entries in order, one a line, byte for byte
//	tables/DIGEST   the rule tables that records name
//
// It is apart from package ledger, which writes the log, so that a check does not trust
// the program that wrote.
package recordlog
