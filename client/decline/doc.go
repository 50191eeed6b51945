// Package decline draws how a stand of trees declines over the years of a campaign, as
// an SVG file and as text for a terminal, and where to look for suckers, as a small map.
//
// A drawing holds all that it shows: no font, script or style comes from outside, and
// the same numbers give the same bytes. What is told by a colour is told by a shape and
// by words, too. A season in which nobody looked is a gap; nothing is filled in.
package decline
