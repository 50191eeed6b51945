package ruletest

var Untested = untested
