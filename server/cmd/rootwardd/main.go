// Command rootwardd serves treatment prescriptions over gRPC.
package main

import (
	"context"
	"os"

	"example.org/rootward/server/app"
)

func main() {
	os.Exit(app.Run(context.Background(), os.Args[1:], os.Environ(), os.Stdin, os.Stdout, os.Stderr))
}
