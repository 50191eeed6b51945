// Package api serves Rootward's gRPC services. It reads requests into the terms
// of the core, asks the core, and writes its answers; it decides nothing itself.
//
// The package is separate because it alone knows both the messages and the core:
// neither has to change with the other.
package api
