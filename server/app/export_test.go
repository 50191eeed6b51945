package app

import (
	"example.org/rootward/server/api"
	"example.org/rootward/server/rulehost"
)

// NewServer lets tests serve what no flag can ask for, such as a law that panics.
var NewServer = newServer

// Version is the version of another program.
var Version = version

// ServicesOf is a host as the services see it.
func ServicesOf(host *rulehost.Host) (api.Current, api.RuleHost) {
	h := ruleHost{host}
	return h.current, h
}
