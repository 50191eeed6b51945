package store

import (
	"cmp"
	"context"
	"database/sql/driver"
	"errors"
	"strings"

	"modernc.org/sqlite"
)

// preparing makes connections that keep the statements which they have prepared: SQLite
// takes longer to prepare most of ours, and of the queue's, than to run them.
type preparing struct{ driver.Connector }

func newPreparing(name string) (driver.Connector, error) {
	c, err := sqlite.NewConnector(name)
	return preparing{c}, err
}

// Connect implements driver.Connector.
func (p preparing) Connect(ctx context.Context) (driver.Conn, error) {
	c, err := p.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	all, ok := c.(connection)
	if !ok {
		return nil, errors.Join(errors.New("SQLite's driver lacks what a connection is to have"), c.Close())
	}
	return &prepared{all, map[string]statement{}}, nil
}

// connection is what SQLite's driver wants those to pass on that wrap one.
type connection interface {
	driver.Conn
	driver.ConnBeginTx
	driver.ConnPrepareContext
	driver.ExecerContext
	driver.QueryerContext
	driver.Pinger
	driver.SessionResetter
	driver.Validator
}

type statement interface {
	driver.Stmt
	driver.StmtExecContext
	driver.StmtQueryContext
}

// prepared is a connection with statements that nobody runs, by their texts. It is used by
// one goroutine at a time, as package sql promises.
type prepared struct {
	connection
	idle map[string]statement
}

// maxPrepared is more than there are.
const maxPrepared = 100

// Unwrap gives the driver its own connection.
func (c *prepared) Unwrap() driver.Conn { return c.connection }

// Close implements driver.Conn.
func (c *prepared) Close() error {
	for text, s := range c.idle {
		_ = s.Close() // the connection's error says more
		delete(c.idle, text)
	}
	return c.connection.Close()
}

// ExecContext implements driver.ExecerContext.
func (c *prepared) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	if !lasts(query) {
		return c.connection.ExecContext(ctx, query, args)
	}
	s, err := c.take(ctx, query)
	if err != nil {
		return nil, err
	}
	r, err := s.ExecContext(ctx, args)
	return r, c.put(query, s, err)
}

// QueryContext implements driver.QueryerContext.
func (c *prepared) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	if !lasts(query) {
		return c.connection.QueryContext(ctx, query, args)
	}
	s, err := c.take(ctx, query)
	if err != nil {
		return nil, err
	}
	r, err := s.QueryContext(ctx, args)
	if err != nil {
		return nil, c.put(query, s, err)
	}
	return &preparedRows{r, c, query, s}, nil
}

// preparedRows give back the statement that they are of.
type preparedRows struct {
	driver.Rows
	of        *prepared
	query     string
	statement statement
}

// Close implements driver.Rows.
func (r *preparedRows) Close() error { return r.of.put(r.query, r.statement, r.Rows.Close()) }

// take gives a statement, which nobody else has until it is put back.
func (c *prepared) take(ctx context.Context, query string) (statement, error) {
	if s, ok := c.idle[query]; ok {
		delete(c.idle, query)
		return s, nil
	}
	s, err := c.connection.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	all, ok := s.(statement)
	if !ok {
		return nil, errors.Join(errors.New("SQLite's driver lacks what a statement is to have"), s.Close())
	}
	return all, nil
}

// put keeps a statement that did well, in place of any other if there are too many.
func (c *prepared) put(query string, s statement, err error) error {
	if _, again := c.idle[query]; again || err != nil {
		return cmp.Or(err, s.Close()) // what it failed with says more
	}
	if len(c.idle) >= maxPrepared {
		for text, other := range c.idle {
			delete(c.idle, text)
			_ = other.Close()
			break
		}
	}
	c.idle[query] = s
	return nil
}

// lasts reports whether a statement may be run again once it is prepared: of others, such
// as PRAGMA, a part is done when they are prepared, and would not be done again.
func lasts(query string) bool {
	for strings.HasPrefix(query, "--") { // the queue's begin with their names
		_, query, _ = strings.Cut(query, "\n")
		query = strings.TrimSpace(query)
	}
	verb, _, _ := strings.Cut(strings.TrimSpace(query), " ")
	switch strings.TrimSpace(verb) {
	case "SELECT", "INSERT", "UPDATE", "DELETE":
		return true
	}
	return false
}
