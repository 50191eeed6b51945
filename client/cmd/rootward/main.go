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
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := command.Run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
