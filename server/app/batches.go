package app

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"time"

	"github.com/rs/zerolog"

	"example.org/rootward/server/api"
	"example.org/rootward/server/batch"
	"example.org/rootward/server/store"
)

// batches is the store of durable batches with what works on it.
type batches struct {
	engine *batch.Engine // nil: none are kept
	store  *store.Store
}

// openBatches opens the store that the flags name, if any, and begins to work: what was
// under way when the last server ended goes on.
func openBatches(ctx context.Context, c *config, services api.Services, log zerolog.Logger) (*batches, error) {
	if c.Data == "" && c.Database == "" {
		return &batches{}, nil
	}
	s, err := store.Open(ctx, store.Config{Folder: c.Data, Database: c.Database, Log: log})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.storeFlag(), err)
	}
	services.Version = version(log, program())
	e, err := batch.Open(ctx, batch.Config{Store: s, Evaluator: api.NewEvaluator(services), Log: log, Name: serverName()})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.storeFlag(), errors.Join(err, s.Close()))
	}
	log.Info().Str("store", c.storeFlag()).Msg("batches are kept")
	return &batches{e, s}, nil
}

// serverName tells an operator which server is meant.
func serverName() string {
	host, err := os.Hostname()
	if err != nil {
		host = "a machine without a name"
	}
	return fmt.Sprintf("%s, process %d", host, os.Getpid())
}

// storeFlag names the flag and its value, but for a password.
func (c *config) storeFlag() string {
	if c.Database == "" {
		return "--data " + c.Data
	}
	u, err := url.Parse(c.Database)
	if err != nil || u.Opaque != "" || u.Scheme != "postgres" && u.Scheme != "postgresql" {
		return "--database" // where a password is in it nobody knows
	}
	u.RawQuery, u.Fragment = "", "" // one may stand among the parameters, too
	return "--database " + u.Redacted()
}

// service gives the services what they keep batches in; nil if there is nothing.
func (b *batches) service() api.Batches {
	if b.engine == nil {
		return nil
	}
	return b.engine
}

// stop takes no more jobs and waits, for a time, until those that run have kept what
// they did.
func (b *batches) stop(within time.Duration) error {
	if b.engine == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), within)
	defer cancel()
	return b.engine.Close(ctx)
}

// close closes the store. Nothing may be in use.
func (b *batches) close() error {
	if b.store == nil {
		return nil
	}
	return b.store.Close()
}
