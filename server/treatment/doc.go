// Package treatment decides how a stem is treated: which methods fit, which of
// them the law leaves, which of those is best, how much of what it takes, and
// when. It is pure: it imports the standard library and the rules alone, reads
// no clock and no file, and gives the same answer to the same question.
//
// The way of one stem: each method (one file each) says why it does not fit;
// what is left is offered to the rules that govern the site; what they leave is
// ranked; the first gets its dose; a Planner keeps the sums of its site.
package treatment
