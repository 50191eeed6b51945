package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"log/slog"

	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivermigrate"
)

//go:embed migrations
var migrations embed.FS

// migrate brings our tables and River's up to date. The caller sees to it that no
// other does so meanwhile.
func migrate[T any](ctx context.Context, db *sql.DB, dialect goose.Dialect, driver riverdriver.Driver[T], log *slog.Logger) error {
	steps, err := fs.Sub(migrations, "migrations/"+string(dialect))
	if err != nil {
		return err
	}
	ours, err := goose.NewProvider(dialect, db, steps, goose.WithTableName("rootward_migration"), goose.WithSlog(log))
	if err != nil {
		return fmt.Errorf("read the migrations: %w", err)
	}
	if _, err := ours.Up(ctx); err != nil {
		return fmt.Errorf("renew the tables: %w", err)
	}
	jobs, err := rivermigrate.New(driver, &rivermigrate.Config{Logger: log})
	if err != nil {
		return fmt.Errorf("read the migrations of the queue: %w", err)
	}
	if _, err := jobs.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return fmt.Errorf("renew the tables of the queue: %w", err)
	}
	return nil
}
