package rules

// Content is what a digest is taken over.
var Content = content
