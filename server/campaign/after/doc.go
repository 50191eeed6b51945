// Package after says what follows on treatment: when a stem may be felled, where and
// when to look again, whether a visit has looked, what is to be treated again, how the
// stems decline, and when enough seasons were clean to call a campaign finished.
//
// It is pure: it imports the standard library and the rules alone, reads no clock and
// no file, and is passed the date. What is unknown is never allowed here, never zero
// and never clean: a treatment without a date gives no felling date, a stem without a
// position no inspection area, and a visit that walked too little no clean season.
//
// The package is separate from the campaign's state machine because each of its parts
// can be held against published figures by itself.
package after
