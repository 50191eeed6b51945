// Package season puts a season's work into days.
//
// Jobs are taken in their order, and each gets the first days on which a crew is free,
// may do it, and nothing forbids it: the window, the notice that somebody has to have
// beforehand, the entry interval of other work on the site. Days that rain will take are
// kept free behind each job. What does not fit is named with the cheapest change that
// makes it fit, found by planning again with each change.
package season
