package app

import (
	"context"
	"errors"
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
	"example.org/rootward/server/confine"
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
	defer paceCollector()()
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

// run loads the rule sets, which takes longest, while it reads the catalogue, listens and
// reads the water; then come batches, the log of campaigns and the server.
func run(ctx context.Context, c *config, stdout, stderr io.Writer) error {
	log := newLog(c, stderr)
	go confine.Layers() // a process tries them, which takes a while
	warnOfUnsigned(log, c.Unsigned)
	if c.rehearsal() {
		log.Warn().Str("today", c.Rehearse).Msg("campaigns are REHEARSED: their clock is made up, and nothing that is kept is a record of anything")
	}
	host := rulehost.New(rulehost.Config{
		Log: log, Unsigned: c.Unsigned, Unconfined: c.Unconfined, AllowChanges: c.AllowRuleChanges,
	})
	defer host.Close()
	waters := &waterFolder{dir: c.Water, log: log}
	defer reloadAtHangup(ctx, host, c.Rules, waters, log)() // before it loads: a hangup would end it
	loaded, giveUp := load(ctx, host, c.Rules)
	defer giveUp()
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
	if err := waters.load(); err != nil {
		return err
	}
	err = <-loaded
	logLayers(log)
	if err != nil {
		return fmt.Errorf("--rules %s: %w", c.Rules, err)
	}
	if len(host.Catalog().Sets) == 0 {
		log.Warn().Msg("no rule set is active: every answer will be UNDETERMINED")
	}
	law := ruleHost{host}
	services := api.Services{Catalogue: known, Current: law.current, Host: law, Water: waters.current, Now: c.clock(), Aside: newAsideFolder(c.Data, maxAside).open}
	kept, err := openBatches(ctx, c, services, log)
	if err != nil {
		return err
	}
	services.Batches = kept.service()
	if services.Ledger, err = openLedger(ctx, c, kept.store, log); err != nil {
		return errors.Join(err, kept.stop(c.DrainTime), kept.close())
	}
	server, state := newServer(log, creds, services)
	err = serve(ctx, c, log, server, state, kept, listener, func() { fmt.Fprintln(stdout, "ready", address) })
	host.Close() // before the store: a plugin may be answering for a batch
	return errors.Join(err, kept.close())
}

// load loads the rule sets meanwhile, and tells what came of it. Who gives up waits until
// nothing loads any more.
func load(ctx context.Context, host *rulehost.Host, dir string) (loaded <-chan error, giveUp func()) {
	ctx, cancel := context.WithCancel(ctx)
	done, ended := make(chan error, 1), make(chan struct{})
	go func() {
		defer close(ended)
		done <- host.Start(ctx, dir)
	}()
	return done, func() {
		cancel()
		<-ended
	}
}

// logLayers says how plugins are confined here.
func logLayers(log zerolog.Logger) {
	for _, l := range confine.Layers() {
		level := zerolog.InfoLevel
		if !l.InForce {
			level = zerolog.WarnLevel
		}
		log.WithLevel(level).Str("layer", l.Name).Bool("in_force", l.InForce).Str("detail", l.Detail).Msg("confinement of rule plugins")
	}
}

// warnOfUnsigned says that the law may come from anyone, since a variable of the
// environment that nobody thinks of is enough for it.
func warnOfUnsigned(log zerolog.Logger, names []string) {
	if len(names) > 0 {
		log.Warn().Strs("unsigned", names).Msg("rule plugins that NOBODY HAS SIGNED may decide, by --unsigned or ROOTWARD_UNSIGNED: never where prescriptions are used")
	}
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

// reloadAtHangup has the folders of rule sets and of water layers loaded anew at each
// SIGHUP, until the context ends or what it gives is called. What cannot be loaded
// leaves everything as it was.
func reloadAtHangup(ctx context.Context, host *rulehost.Host, dir string, waters *waterFolder, log zerolog.Logger) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	hangup := make(chan os.Signal, 1)
	signal.Notify(hangup, syscall.SIGHUP)
	var waiting sync.WaitGroup
	waiting.Go(func() {
		for {
			select {
			case <-ctx.Done():
				return
			case <-hangup:
			}
			log.Info().Msg("loading the rule sets anew")
			if err := host.Load(ctx, dir); err != nil {
				log.Error().Err(err).Msg("the rule sets were not loaded anew; those that were active go on")
			}
			waters.reload()
		}
	})
	return func() {
		signal.Stop(hangup)
		cancel()
		waiting.Wait()
	}
}

// serve serves until the context ends. Then it drains in this order: health says
// NOT_SERVING, no new call is taken, the jobs of batches keep what they have at hand
// and end, calls that are under way go on for the drain time, the rest is cut off.
func serve(ctx context.Context, c *config, log zerolog.Logger, server *grpc.Server, state *health.Server, kept *batches, listener net.Listener, ready func()) error {
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
		return errors.Join(err, kept.stop(c.DrainTime))
	case <-ctx.Done():
	}
	log.Info().Msg("draining")
	state.Shutdown()
	cut := time.AfterFunc(c.DrainTime, server.Stop)
	defer cut.Stop()
	var jobs sync.WaitGroup
	jobs.Go(func() {
		if err := kept.stop(c.DrainTime); err != nil {
			log.Warn().Err(err).Msg("jobs did not end in time; what they had not kept is done again")
		}
	})
	server.GracefulStop()
	jobs.Wait()
	log.Info().Msg("stopped")
	return nil
}
