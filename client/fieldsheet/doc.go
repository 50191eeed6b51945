// Package fieldsheet makes the sheet that a crew takes along: one HTML file to be
// printed, black on white, with everything in it and nothing from outside. What
// must not be treated is told apart by words, marks and frames, never by colour.
package fieldsheet
