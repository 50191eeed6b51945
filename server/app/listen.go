package app

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sys/unix"
	"google.golang.org/grpc/credentials"
)

// listen opens the address and gives it as a client dials it.
func listen(ctx context.Context, c *config) (net.Listener, string, error) {
	if path, ok := strings.CutPrefix(c.Listen, "unix:"); ok {
		return listenUnix(ctx, path)
	}
	host, _, err := net.SplitHostPort(c.Listen)
	if err != nil {
		return nil, "", fmt.Errorf("--listen %q is neither host:port nor unix:PATH: %w", c.Listen, err)
	}
	if !isLoopback(host) && c.TLSCert == "" {
		return nil, "", fmt.Errorf("--listen %q can be reached from other machines, and without TLS anyone on the way could read and change prescriptions: give --tls-cert and --tls-key, or listen on 127.0.0.1 or unix:PATH", c.Listen)
	}
	l, err := new(net.ListenConfig).Listen(ctx, "tcp", c.Listen)
	if err != nil {
		return nil, "", fmt.Errorf("--listen %q: %w", c.Listen, err)
	}
	return l, l.Addr().String(), nil
}

// isLoopback is sure of "localhost" and of addresses; any other name may lead
// elsewhere.
func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// listenUnix opens a socket that only this user can connect to: it has mode 0600,
// in a folder of mode 0700, which is made if it is missing.
func listenUnix(ctx context.Context, path string) (net.Listener, string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, "", fmt.Errorf("--listen unix:%s: %w", path, err)
	}
	const longest = len(unix.RawSockaddrUnix{}.Path) - 1
	if len(path) > longest {
		return nil, "", fmt.Errorf("--listen unix:%s has %d bytes, a socket's path can have %d: use a shorter one", path, len(path), longest)
	}
	if err := privateFolder(filepath.Dir(path)); err != nil {
		return nil, "", err
	}
	if err := removeStale(ctx, path); err != nil {
		return nil, "", err
	}
	l, err := new(net.ListenConfig).Listen(ctx, "unix", path)
	if err != nil {
		return nil, "", fmt.Errorf("--listen unix:%s: %w", path, err)
	}
	// Until here nobody else could get at it, for the folder is private.
	if err := os.Chmod(path, 0o600); err != nil {
		return nil, "", errors.Join(err, l.Close())
	}
	return l, "unix:" + path, nil
}

func privateFolder(dir string) error {
	if err := os.Mkdir(dir, 0o700); err == nil || !errors.Is(err, fs.ErrExist) {
		return err
	}
	info, err := os.Stat(dir)
	if err != nil {
		return err
	}
	if others := info.Mode().Perm() & 0o077; others != 0 {
		return fmt.Errorf("the socket's folder %s has mode %04o, so that others may get at the socket: use a folder of its own, or chmod 700 it", dir, info.Mode().Perm())
	}
	return nil
}

// removeStale removes a socket that a server left behind when it was killed. One
// on which somebody answers, and anything but a socket, stays.
func removeStale(ctx context.Context, path string) error {
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case info.Mode().Type() != fs.ModeSocket:
		return fmt.Errorf("%s is there and is no socket: remove it, or listen elsewhere", path)
	}
	dialer := net.Dialer{Timeout: time.Second}
	conn, err := dialer.DialContext(ctx, "unix", path)
	if err == nil {
		return errors.Join(fmt.Errorf("another server answers on %s: stop it, or listen elsewhere", path), conn.Close())
	}
	if !errors.Is(err, unix.ECONNREFUSED) {
		return fmt.Errorf("it is not certain that %s is left over: %w", path, err)
	}
	return os.Remove(path)
}

// transport gives the server's TLS, and nil if it has none.
func transport(c *config) (credentials.TransportCredentials, error) {
	if c.TLSCert == "" {
		return nil, nil
	}
	pair, err := tls.LoadX509KeyPair(c.TLSCert, c.TLSKey)
	if err != nil {
		return nil, fmt.Errorf("--tls-cert %s and --tls-key %s: %w", c.TLSCert, c.TLSKey, err)
	}
	return credentials.NewTLS(&tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}), nil
}
