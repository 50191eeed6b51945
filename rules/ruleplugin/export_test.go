package ruleplugin

// Mutual is mutual.
var Mutual = mutual
