package rulehost

import (
	"context"
	"errors"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
)

// running is a plugin's process that is kept. It belongs to one goroutine.
type running struct {
	rules pluginv1.RulePluginServiceClient
	end   context.CancelCauseFunc // asks the process to end; may be called often
	ended chan struct{}           // closed when it has
	why   error                   // why it ended, once ended is closed; nil if it was asked to
}

// run starts the plugin, and gives it once it serves.
func (p *plugin) run() (*running, error) {
	wanted, end := context.WithCancelCause(context.Background())
	r := &running{end: end, ended: make(chan struct{})}
	started := make(chan error, 1)
	go func() {
		defer close(r.ended)
		r.why = p.serveUntil(wanted, r, started)
	}()
	if err := <-started; err != nil {
		<-r.ended
		return nil, err
	}
	return r, nil
}

// serveUntil runs the plugin until the context ends or the process does by itself.
// It sends what came of the start.
func (p *plugin) serveUntil(wanted context.Context, r *running, started chan<- error) error {
	client, run, err := p.launch()
	if err != nil {
		started <- err
		return err
	}
	defer p.stop(client, run)
	if r.rules, err = p.connect(client); err != nil {
		started <- run.blame(err)
		return err
	}
	started <- nil
	select {
	case <-wanted.Done():
	case <-run.done:
		return run.blame(errors.New("its process ended by itself"))
	}
	if why := context.Cause(wanted); !errors.Is(why, errAsked) {
		run.kill() // what failed is not asked to end
		return run.blame(why)
	}
	return nil
}

// errAsked is the cause of an end that nobody is to blame for.
var errAsked = errors.New("it was asked to end")

func (r *running) hasEnded() bool {
	select {
	case <-r.ended:
		return true
	default:
		return false
	}
}
