// Package rulecoverage tells what the worked cases of a rule set do not show: rows that
// no case is about, and limits of which no case lies on one side. It is the same check
// for authors who write Go, in their tests, and for those who write a table file.
package rulecoverage
