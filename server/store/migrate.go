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

// migrate brings our tables and River's up to date, unless a newer version of this
// program has made them: what that means by them is not known here. The caller sees to it
// that no other does so meanwhile.
func migrate[T any](ctx context.Context, db *sql.DB, dialect goose.Dialect, driver riverdriver.Driver[T], log *slog.Logger) error {
	steps, err := fs.Sub(migrations, "migrations/"+string(dialect))
	if err != nil {
		return err
	}
	ours, err := goose.NewProvider(dialect, db, steps, goose.WithTableName("rootward_migration"), goose.WithSlog(log))
	if err != nil {
		return fmt.Errorf("read the migrations: %w", err)
	}
	switch found, known, err := ours.GetVersions(ctx); {
	case err != nil:
		return fmt.Errorf("read the version of the tables: %w", err)
	case found > known:
		return tooNew("tables", found, known)
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
	var found int64
	if err := db.QueryRowContext(ctx, `SELECT MAX(version) FROM river_migration`).Scan(&found); err != nil {
		return fmt.Errorf("read the version of the queue's tables: %w", err)
	}
	all := jobs.AllVersions()
	if known := int64(all[len(all)-1].Version); found > known {
		return tooNew("tables of the queue", found, known)
	}
	return nil
}

func tooNew(what string, found, known int64) error {
	return fmt.Errorf("its %s are of version %d, and this program knows them to version %d: a newer one has renewed them, so start that or a newer one, or take back a backup from before",
		what, found, known)
}
