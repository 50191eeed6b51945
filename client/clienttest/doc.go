// Package clienttest holds what tests of the client and its writers share: a small
// inventory with an answer for every row, and a server in memory that gives those
// answers. Everything in it is invented: place, law, doses and dates.
package clienttest
