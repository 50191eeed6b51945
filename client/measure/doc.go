// Package measure writes quantities for people, in US customary or in metric
// units. What is measured out is rounded down: a figure that someone pours by
// never stands for more than was computed.
package measure
