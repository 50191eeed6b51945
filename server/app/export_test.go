package app

// NewServer lets tests serve what no flag can ask for, such as a law that panics.
var NewServer = newServer
