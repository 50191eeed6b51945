// Package quantity holds the units in which rules and doses are computed.
//
// Every quantity is a distinct integer type whose name is its unit, so that a
// limit stated in inches and the same limit stated in centimetres agree exactly
// at the boundary, and so that sums do not depend on their order. Values cross
// from one unit to another only through the named functions here. Converting
// from floating point rounds to the nearest whole unit; arithmetic that can
// fall between two units says in its comment which way it rounds and why.
//
// The package is separate because the rule tables, the treatment core and the
// plugins all need it, and none of them may depend on another.
package quantity
