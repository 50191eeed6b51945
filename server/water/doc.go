// Package water measures how far a stem or a patch is from water. It holds layers of
// water, read from files, in an index of their segments.
//
// It is apart from package treatment, which is told distances and does not know where
// they come from, and from package api, which knows the protos. It errs to the safe
// side alone: no distance that it gives is longer than the true one.
//
// Distances are those between places on the ellipsoid of WGS 84, through the earth
// and not over it: that is never longer, and shorter by 1 mm in 10 km. What a line,
// straight in latitude and longitude, strays from the straight way between its ends is
// bounded and taken off; where it may stray far, the line is looked at in halves. So a
// distance is at most 1 mm too short under 100 m, and a hundredth of a thousandth of
// it above. Above the sea the ground is wider than the ellipsoid, by 16 parts in
// 100,000 for each 1,000 m; below it, narrower, by 7 in 100,000 at the lowest shore.
//
// What a layer does not show is only known not to be there where the layer says that
// it shows all: outside of its coverage a class of water is unknown, and not far.
package water
