package web

// Reshape is reshape, for its properties.
var Reshape = reshape
