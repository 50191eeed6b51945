package ruleplugin

// Mutual is mutual.
var Mutual = mutual

// Listen is listen.
var Listen = listen
