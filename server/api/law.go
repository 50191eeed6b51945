package api

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// Law is the rule sets of a server at one moment. None of it changes: a request
// that holds one is decided by the same rows to its end.
type Law struct {
	Sets      []*rules.Set // active, the widest layer first
	NotLoaded []NotLoaded
	// Govern gives the law of a place on a day; what is missing are gaps in it.
	Govern func(place string, on civil.Date) *rules.Governing
}

// NotLoaded is a rule set that could not be loaded.
type NotLoaded struct {
	Where   string // the plugin
	Problem string // why, and what to do
}

// Current gives the law that a server holds now. It is safe from any goroutine.
type Current func() Law
