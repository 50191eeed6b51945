// Package sample tells from fixed-radius plots what stands on the whole ground, and how
// far that can be wrong.
//
// Plots are drawn without replacement from as many as the ground holds, so that standard
// errors have the finite population correction, and intervals are by Student's t. Ground
// that was sampled in parts is put together with each part's share of the ground as its
// weight, and each part's own variance: the formula for an optimum allocation, which is
// met in print for samples that were not allocated so, is not used.
package sample
