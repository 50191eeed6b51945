// Package client talks to a Rootward server. It reads an inventory from a file,
// has it prescribed as a stream, and hands the answers on in the order of the
// file; how large the file is does not change how much memory that takes.
//
// What becomes of the answers is the caller's: package report writes them as
// tables and summaries, package fieldsheet for print.
package client
