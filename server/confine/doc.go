// Package confine starts another's program with no more rights than a rule plugin
// needs. It is separate because it is all that stands between a rule set somebody
// sent and the server's files, memory and network, and is to be read as one piece.
//
// The server starts itself a second time under the name rootward-confine. That
// process takes every right away from itself, in layers that each hold if another
// does not, and then becomes the plugin:
//
//   - rlimits: memory, open files, no bytes in any file, no core; it gives way to the
//     server for processor time and is the first to go when memory runs out. All
//     capabilities are dropped.
//   - landlock: it opens its own file and what the operator lets it read, and makes
//     and removes files in the folder of its socket. Nothing else in the file system,
//     no TCP port, no signal and no abstract socket beyond itself.
//   - seccomp: a list of system calls, the rest is refused. No connection is made to
//     anything, no process is started, nothing outside it is signalled or looked into.
//
// What no layer bounds, [Exceeded] tells whoever watches the process: its threads.
// The number of files in the folder of its socket is bounded by nobody; watch that
// folder too.
package confine
