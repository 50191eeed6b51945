// Package campaign says how the fight for one site stands on a day: what is due, from
// when and until when, what may be felled, and why it may not yet be called finished.
//
// A campaign is a log: surveys, plans, records of use and visits, each in its last
// version. Standing is worked out from them and from the day that is passed in, every
// time anew; no state is kept, so that none can be wrong. The parts with figures of
// their own are packages below this one: sample, season, weather, use, record, after.
//
// It is pure: it imports the standard library, the rules and those parts. What is
// unknown never counts as treated, dead, looked at or finished.
package campaign
