// Package kills proves that a durable batch loses nothing: servers are killed while one
// is uploaded and decided, and its results are held against those of a batch that was
// left alone. A small proof is among the ordinary tests; "make test-kills" makes the
// large one.
package kills
