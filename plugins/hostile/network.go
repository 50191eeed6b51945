//go:build linux

package main

import (
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"syscall"

	"golang.org/x/sys/unix"
)

var networkActs = map[string]act{
	"dials-tcp":               dials("tcp", "127.0.0.1:9"),
	"dials-tcp-6":             dials("tcp6", "[::1]:9"),
	"dials-udp":               dials("udp", "127.0.0.1:9"),
	"listens-on-tcp":          listensOnTCP,
	"opens-multipath-tcp":     opensSocket(unix.AF_INET, unix.SOCK_STREAM, unix.IPPROTO_MPTCP),
	"opens-raw-socket":        opensSocket(unix.AF_INET, unix.SOCK_RAW, unix.IPPROTO_ICMP),
	"opens-packet-socket":     opensSocket(unix.AF_PACKET, unix.SOCK_RAW, 0),
	"opens-netlink":           opensSocket(unix.AF_NETLINK, unix.SOCK_RAW, 0),
	"opens-vsock":             opensSocket(unix.AF_VSOCK, unix.SOCK_STREAM, 0),
	"opens-a-pair":            opensPair,
	"connects-to-host-socket": func() error { return dials("unix", hostSocket())() },
	"connects-to-abstract":    func() error { return dials("unix", abstractSocket())() },
	"sends-to-host-socket":    sendToHostSocket,
	"listens-elsewhere":       listenElsewhere,
}

// hostSocket is where a host's own socket lies, for tests: beside the rules folder.
func hostSocket() string { return filepath.Join(filepath.Dir(filepath.Dir(self())), "host.sock") }

// abstractSocket is a name that has no file.
func abstractSocket() string { return fmt.Sprintf("@rootward-hostile-%d", os.Getppid()) }

// dials reaches the network also where nobody listens.
func dials(network, address string) act {
	return func() error {
		conn, err := net.Dial(network, address)
		if errors.Is(err, syscall.ECONNREFUSED) {
			return nil
		}
		if err != nil {
			return err
		}
		defer conn.Close()
		_, err = conn.Write([]byte("out"))
		return err
	}
}

func listensOnTCP() error {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	return l.Close()
}

func opensSocket(family, kind, protocol int) act {
	return func() error {
		fd, err := unix.Socket(family, kind, protocol)
		if err != nil {
			return err
		}
		return unix.Close(fd)
	}
}

func opensPair() error {
	_, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_DGRAM, 0)
	return err
}

// sendToHostSocket needs no connection.
func sendToHostSocket() error {
	fd, err := unix.Socket(unix.AF_UNIX, unix.SOCK_DGRAM, 0)
	if err != nil {
		return err
	}
	defer unix.Close(fd)
	err = unix.Sendto(fd, []byte("out"), 0, &unix.SockaddrUnix{Name: hostSocket()})
	if errors.Is(err, syscall.EPROTOTYPE) {
		return nil // the host's is of another kind: it was reached
	}
	return err
}

// listenElsewhere puts a socket beside the host's.
func listenElsewhere() error {
	l, err := net.Listen("unix", hostSocket()+"2")
	if err != nil {
		return err
	}
	return l.Close()
}
