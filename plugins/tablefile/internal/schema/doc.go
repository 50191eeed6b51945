// Package schema generates the JSON Schema that editors check table files with. Its
// test sees that the checked-in schema is current, and writes it with -update.
package schema
