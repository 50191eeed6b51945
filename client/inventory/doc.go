// Package inventory reads inventories of stems and patches from CSV, Parquet and
// GeoJSON files into the messages of the treatment API.
//
// It is separate so that the command line, a converter or a test can read the
// same files by the same rules; it opens files and nothing else. The columns are
// listed by Columns and described in docs/inventory-format.md.
//
// Nothing is guessed and nothing is lost: a quantity takes its unit from the
// name of its column, and a row that cannot be read comes out as a Record with
// Faults. Memory does not grow with the file: a line or a feature is at most
// 1 MiB, a field at most 64 KiB, and only the sites, at most 100,000, and the hashes
// of the first 1,048,576 ids are remembered.
//
// A Reader gives records one by one, or blocks of them in columns. In a block, CSV
// rows that need no care are read by a shorter way (quick.go), which comes to the
// same: what it does not take as it stands is left to the careful one. A Parquet
// file is read as the CSV file that it could be.
package inventory
