// Package inventory reads inventories of stems and patches from CSV and GeoJSON
// files into the messages of the treatment API.
//
// It is separate so that the command line, a converter or a test can read the
// same files by the same rules; it opens files and nothing else. The columns are
// listed by Columns and described in docs/inventory-format.md.
//
// Nothing is guessed and nothing is lost: a quantity takes its unit from the
// name of its column, and a row that cannot be read comes out as a Record with
// Faults. Memory does not grow with the file: a line or a feature is at most
// 1 MiB, a field at most 64 KiB, and only the sites, at most 100,000, are
// remembered.
package inventory
