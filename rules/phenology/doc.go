// Package phenology tells when the year is so far at a place: by Hopkins' law of
// latitude, longitude and elevation, and by degree days. It is for rule plugins that
// compute a window for each site.
//
// All of it is integer arithmetic, except for the single sine, which is rounded to
// the nearest ten-thousandth of a degree day; nothing here is ever NaN. It is
// separate from rules, which evaluates what is stated and computes nothing.
package phenology
