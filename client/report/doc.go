// Package report writes the answers for an inventory: a CSV table and a GeoJSON
// collection with a record for every row, and a summary for the terminal. Each
// takes rows one at a time, in the order of the file, and none of them keeps the
// rows, so that the size of the inventory does not matter.
//
// docs/result-format.md documents the columns; it is made from Columns.
package report
