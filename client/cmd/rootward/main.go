// Rootward prescribes the treatment of an inventory of root-suckering invasive
// trees; see rootward --help.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"example.org/rootward/client/command"
)

func main() {
	// A reader that goes away, as head does, makes a write fail instead of ending
	// the process at once: a private server and its socket are still cleared away.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	code := command.Run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
