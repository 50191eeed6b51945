// Package postgres runs a private PostgreSQL, with PostGIS, for the bench: its cluster
// lies in a temporary folder and listens on a socket there alone.
package postgres

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// Cluster is a running server. The caller closes it.
type Cluster struct {
	folder string
	run    func(args ...string) error
}

// Start makes a cluster and starts its server. It refuses to work as root, so that root
// starts it as the user postgres.
func Start(ctx context.Context) (*Cluster, error) {
	bin, err := programs()
	if err != nil {
		return nil, err
	}
	folder, err := os.MkdirTemp("/tmp", "rootward-bench-pg-")
	if err != nil {
		return nil, err
	}
	as, err := unprivileged(folder)
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	c := &Cluster{folder: folder, run: func(args ...string) error {
		cmd := exec.Command(filepath.Join(bin, args[0]), args[1:]...)
		cmd.Dir, cmd.SysProcAttr = folder, as
		if out, err := cmd.CombinedOutput(); err != nil {
			return fmt.Errorf("%s: %w\n%s", args[0], err, out)
		}
		return nil
	}}
	if err := c.start(ctx); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	return c, nil
}

// settings leave the server both cores and enough memory for the tables.
const settings = `listen_addresses = ''
unix_socket_directories = '%s'
shared_buffers = 1GB
work_mem = 64MB
max_parallel_workers_per_gather = 2
max_parallel_workers = 2
fsync = off
synchronous_commit = off
autovacuum = off
`

func (c *Cluster) start(ctx context.Context) error {
	data := filepath.Join(c.folder, "data")
	if err := c.run("initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync"); err != nil {
		return err
	}
	conf, err := os.OpenFile(filepath.Join(data, "postgresql.conf"), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	fmt.Fprintf(conf, settings, c.folder)
	if err := conf.Close(); err != nil {
		return err
	}
	return c.run("pg_ctl", "-D", data, "-w", "-l", filepath.Join(c.folder, "log"), "start")
}

// Connect opens a connection. The caller closes it.
func (c *Cluster) Connect(ctx context.Context) (*pgx.Conn, error) {
	return pgx.Connect(ctx, fmt.Sprintf("host=%s user=postgres dbname=postgres", c.folder))
}

// Close stops the server and removes the cluster.
func (c *Cluster) Close() error {
	err := c.run("pg_ctl", "-D", filepath.Join(c.folder, "data"), "-m", "immediate", "stop")
	return errors.Join(err, os.RemoveAll(c.folder))
}

// programs finds the newest server that is installed.
func programs() (string, error) {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin")
	if len(found) == 0 {
		return "", errors.New("PostgreSQL is not installed: make bench installs Debian's postgresql and postgis when it runs as root")
	}
	return slices.Max(found), nil
}

// unprivileged gives the folder to the user postgres where root starts the server.
func unprivileged(folder string) (*syscall.SysProcAttr, error) {
	if os.Getuid() != 0 {
		return nil, nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return nil, err
	}
	uid, err := strconv.Atoi(u.Uid)
	if err != nil {
		return nil, err
	}
	gid, err := strconv.Atoi(u.Gid)
	if err != nil {
		return nil, err
	}
	return &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}, os.Chown(folder, uid, gid)
}

// timed gives how long a query takes.
func timed(ctx context.Context, c *pgx.Conn, query string, args ...any) (time.Duration, error) {
	began := time.Now()
	rows, err := c.Query(ctx, query, args...)
	if err != nil {
		return 0, err
	}
	for rows.Next() {
	}
	return time.Since(began), rows.Err()
}
