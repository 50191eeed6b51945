// Package batch decides inventories in the background, chunk by chunk, so that nothing
// is lost when a server is killed and several servers can share the work.
//
// It knows nothing of stems and laws: requests, chunks, answers and tallies are bytes
// that an Evaluator reads and writes. What is kept, package store keeps.
package batch
