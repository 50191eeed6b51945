// Package weather says whether planned work may be done on a day: it holds what was
// measured, what is forecast and what is seen on the site against the limits of the
// label, of the rules and of good practice.
//
// It is pure: it imports the standard library and the rules alone, reads no clock and
// no file, and is passed the time. The verdict on the whole is the worst of its parts,
// and what is not known is worse than a caution: nothing is ever done because a value is
// missing. A value that worsens makes no verdict better.
//
// Which limits bear on a method:
//
//	limit                     foliar   basal bark   cut stump   hack and squirt   hand pull
//	plan, window, daylight    yes      yes          yes         yes               yes
//	wind, gusts, inversion,   yes      no           no          no                no
//	delta T
//	temperature, at least     yes      yes          yes         yes               no
//	temperature, at most      ester    ester        ester       ester             no
//	rain-free hours           yes      yes          yes         yes               no
//	bark                      no       dry          not frozen  not frozen        no
//	soil                      yes      yes          yes         yes               no
//	label's limits            yes      yes          yes         yes               no
//	rules' limits             each where its rule applies
//
// That drift limits bear on what is sprayed into the air alone is common practice, no
// source; a rule or a label that limits the wind for another method is kept.
package weather
