package app

import (
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"github.com/rs/zerolog"
	"google.golang.org/grpc"
	"google.golang.org/grpc/health"

	"example.org/rootward/server/api"
	"example.org/rootward/server/catalogue"
	"example.org/rootward/server/rulehost"
	"example.org/rootward/server/treatment"
)

// Exit codes.
const (
	exitStopped = 0 // stopped as it was told to
	exitFailed  = 1 // did not start, or failed
	exitUsage   = 2 // the flags are wrong
)

// Run is the whole program. It serves until ctx ends, a signal to stop comes, or,
// if it is told so, stdin is closed; then it drains. It gives the exit code.
//
// It prints one line to stdout, "ready ADDRESS", once it serves; ADDRESS is what a
// client dials. Logs go to stderr, a JSON object a line.
func Run(ctx context.Context, args, env []string, stdin io.Reader, stdout, stderr io.Writer) int {
	c, more, err := parse(args, env, stdout, stderr)
	if err != nil {
		fmt.Fprintln(stderr, "rootwardd:", err)
		return exitUsage
	}
	if !more {
		return exitStopped
	}
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	if c.UntilStdinCloses {
		ctx = untilClosed(ctx, stdin)
	}
	// After the first signal the next one ends the program at once.
	context.AfterFunc(ctx, stop)
	if err := run(ctx, c, stdout, stderr); err != nil {
		fmt.Fprintln(stderr, "rootwardd:", err)
		return exitFailed
	}
	return exitStopped
}

// untilClosed ends with the context or when the reader is at its end.
func untilClosed(ctx context.Context, r io.Reader) context.Context {
	ctx, end := context.WithCancel(ctx)
	go func() {
		defer end()
		_, _ = io.Copy(io.Discard, r) // an error is an end, too
	}()
	return ctx
}

// run starts in this order: catalogue, listener, rule sets, server.
func run(ctx context.Context, c *config, stdout, stderr io.Writer) error {
	log := newLog(c, stderr)
	known, err := loadCatalogue(c.Formulations)
	if err != nil {
		return err
	}
	creds, err := transport(c)
	if err != nil {
		return err
	}
	listener, address, err := listen(ctx, c)
	if err != nil {
		return err
	}
	defer listener.Close() // closed by the server, unless it never serves
	host := rulehost.New(rulehost.Config{Log: log})
	if err := host.Load(ctx, c.Rules); err != nil {
		return fmt.Errorf("--rules %s: %w", c.Rules, err)
	}
	if len(host.Catalog().Sets) == 0 {
		log.Warn().Msg("no rule set is active: every answer will be UNDETERMINED")
	}
	server, state := newServer(log, creds, known, func() api.Law { return lawOf(host.Catalog()) })
	return serve(ctx, c, log, server, state, listener, func() { fmt.Fprintln(stdout, "ready", address) })
}

func newLog(c *config, stderr io.Writer) zerolog.Logger {
	level, err := zerolog.ParseLevel(c.LogLevel)
	if err != nil {
		level = zerolog.InfoLevel // the flag allows no other word
	}
	return zerolog.New(zerolog.SyncWriter(stderr)).Level(level).With().Timestamp().Logger()
}

func loadCatalogue(files []string) (*treatment.Catalogue, error) {
	c, err := catalogue.Default()
	if err != nil {
		return nil, err
	}
	for _, name := range files {
		if err := addFile(c, name); err != nil {
			return nil, fmt.Errorf("--formulations: %w", err)
		}
	}
	return c, nil
}

func addFile(c *treatment.Catalogue, name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	return catalogue.Add(c, f, name)
}

// lawOf is what the services see of the host's rule sets.
func lawOf(c *rulehost.Catalog) api.Law {
	law := api.Law{Sets: c.Sets, Govern: c.Govern}
	for _, f := range c.NotLoaded {
		law.NotLoaded = append(law.NotLoaded, api.NotLoaded{Where: f.Where, Problem: f.Problem})
	}
	return law
}

// serve serves until the context ends. Then it drains in this order: health says
// NOT_SERVING, no new call is taken, those that are under way go on for the drain
// time, the rest is cut off.
func serve(ctx context.Context, c *config, log zerolog.Logger, server *grpc.Server, state *health.Server, listener net.Listener, ready func()) error {
	failed := make(chan error, 1)
	var serving sync.WaitGroup
	serving.Go(func() {
		if err := server.Serve(listener); err != nil {
			failed <- err
		}
	})
	defer serving.Wait()
	log.Info().Stringer("address", listener.Addr()).Msg("serving")
	ready()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	log.Info().Msg("draining")
	state.Shutdown()
	cut := time.AfterFunc(c.DrainTime, server.Stop)
	defer cut.Stop()
	server.GracefulStop()
	log.Info().Msg("stopped")
	return nil
}
