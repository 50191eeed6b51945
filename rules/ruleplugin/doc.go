// Package ruleplugin is what a host and a rule plugin must agree on before they
// can speak: the handshake, the version of the contract, and what a plugin says
// of itself when it is asked without a handshake.
//
// The package is separate because the host (server/rulehost), the author's kit
// (rules/rulesdk) and the conformance kit (rules/ruletest) need the same values
// and must not import each other.
package ruleplugin
