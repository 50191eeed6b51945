//go:build linux

package launcher

import (
	"fmt"
	"os"
	"unsafe"

	"golang.org/x/sys/unix"
)

// ownFile is the plugin's file, by the descriptor that was checked.
var ownFile = fmt.Sprintf("/proc/self/fd/%d", PluginFD)

// minABI has all rights over files, with Linux 6.2. What later ones add, TCP (4),
// devices (5) and signals (6), seccomp refuses too.
const minABI = 3

// socketFolder is what go-plugin v1.8.0 needs to find a free name for its socket: it
// makes a file, removes it and puts the socket in its place.
const socketFolder = unix.LANDLOCK_ACCESS_FS_MAKE_SOCK | unix.LANDLOCK_ACCESS_FS_MAKE_REG | unix.LANDLOCK_ACCESS_FS_READ_FILE |
	unix.LANDLOCK_ACCESS_FS_WRITE_FILE | unix.LANDLOCK_ACCESS_FS_REMOVE_FILE

const (
	readFile   = unix.LANDLOCK_ACCESS_FS_EXECUTE | unix.LANDLOCK_ACCESS_FS_READ_FILE
	readFolder = readFile | unix.LANDLOCK_ACCESS_FS_READ_DIR
)

// enterLandlock refuses this thread all that Landlock knows of here, but for the
// plugin's own. It asks the kernel itself: go-landlock v0.11.0 imports what is set up
// late, and stops every thread twice, where this one alone becomes the plugin.
func enterLandlock(o *Order, _ *execution) error {
	abi, err := landlockABI()
	if err != nil {
		return fmt.Errorf("the kernel has none: %w", err)
	}
	if abi < minABI {
		return fmt.Errorf("the kernel has its ABI version %d, %d is needed", abi, minABI)
	}
	refused := landlockRights(abi)
	set, _, errno := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, uintptr(unsafe.Pointer(&refused)), unsafe.Sizeof(refused), 0)
	if errno != 0 {
		return fmt.Errorf("the kernel takes no rules: %w", errno)
	}
	defer unix.Close(int(set))
	if err := addRules(int(set), o); err != nil {
		return err
	}
	if err := unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0); err != nil {
		return fmt.Errorf("forgoing new rights: %w", err)
	}
	if _, _, errno := unix.Syscall(unix.SYS_LANDLOCK_RESTRICT_SELF, set, 0, 0); errno != 0 {
		return fmt.Errorf("the kernel does not put the rules in force: %w", errno)
	}
	return nil
}

// landlockABI is the version of Landlock's interface that the kernel has, and 5 for a later
// one whose limits on signals are not mended: they kept threads of one process apart.
func landlockABI() (int, error) {
	abi, _, errno := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, 0, 0, unix.LANDLOCK_CREATE_RULESET_VERSION)
	if errno != 0 {
		return 0, errno
	}
	const signals, signalsMended = 6, 1 << 1 // landlock(7), "errata"
	if abi >= signals {
		mended, _, errno := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, 0, 0, unix.LANDLOCK_CREATE_RULESET_ERRATA)
		if errno != 0 || mended&signalsMended == 0 {
			return signals - 1, nil
		}
	}
	return int(abi), nil
}

// landlockRights is all that a version of Landlock can refuse (landlock(7)).
func landlockRights(abi int) unix.LandlockRulesetAttr {
	all := unix.LandlockRulesetAttr{
		Handled_access_fs: unix.LANDLOCK_ACCESS_FS_EXECUTE | unix.LANDLOCK_ACCESS_FS_WRITE_FILE | unix.LANDLOCK_ACCESS_FS_READ_FILE |
			unix.LANDLOCK_ACCESS_FS_READ_DIR | unix.LANDLOCK_ACCESS_FS_REMOVE_DIR | unix.LANDLOCK_ACCESS_FS_REMOVE_FILE |
			unix.LANDLOCK_ACCESS_FS_MAKE_CHAR | unix.LANDLOCK_ACCESS_FS_MAKE_DIR | unix.LANDLOCK_ACCESS_FS_MAKE_REG |
			unix.LANDLOCK_ACCESS_FS_MAKE_SOCK | unix.LANDLOCK_ACCESS_FS_MAKE_FIFO | unix.LANDLOCK_ACCESS_FS_MAKE_BLOCK |
			unix.LANDLOCK_ACCESS_FS_MAKE_SYM | unix.LANDLOCK_ACCESS_FS_REFER | unix.LANDLOCK_ACCESS_FS_TRUNCATE,
	}
	if abi >= 4 {
		all.Handled_access_net = unix.LANDLOCK_ACCESS_NET_BIND_TCP | unix.LANDLOCK_ACCESS_NET_CONNECT_TCP
	}
	if abi >= 5 {
		all.Handled_access_fs |= unix.LANDLOCK_ACCESS_FS_IOCTL_DEV
	}
	if abi >= 6 {
		all.Scoped = unix.LANDLOCK_SCOPE_ABSTRACT_UNIX_SOCKET | unix.LANDLOCK_SCOPE_SIGNAL
	}
	if abi >= 9 {
		all.Handled_access_fs |= unix.LANDLOCK_ACCESS_FS_RESOLVE_UNIX
	}
	if abi >= 10 {
		all.Handled_access_net |= unix.LANDLOCK_ACCESS_NET_BIND_UDP | unix.LANDLOCK_ACCESS_NET_CONNECT_SEND_UDP
	}
	return all
}

// addRules lets the plugin have its own.
func addRules(set int, o *Order) error {
	if !o.Probe && o.Sockets != "" {
		if err := addRule(set, o.Sockets, socketFolder); err != nil {
			return err
		}
	}
	if _, err := os.Stat(ownFile); err == nil {
		if err := addRule(set, ownFile, readFile); err != nil {
			return err
		}
	}
	for _, path := range o.Read {
		info, err := os.Stat(path)
		if err != nil {
			return fmt.Errorf("it is to read what is not there: %w", err)
		}
		rights := uint64(readFile)
		if info.IsDir() {
			rights = readFolder
		}
		if err := addRule(set, path, rights); err != nil {
			return err
		}
	}
	return nil
}

// addRule gives rights over a file, or over a folder and all in it.
func addRule(set int, path string, rights uint64) error {
	fd, err := unix.Open(path, unix.O_PATH|unix.O_CLOEXEC, 0)
	if err != nil {
		return fmt.Errorf("letting it at %s: %w", path, err)
	}
	defer unix.Close(fd)
	below := unix.LandlockPathBeneathAttr{Allowed_access: rights, Parent_fd: int32(fd)}
	_, _, errno := unix.Syscall6(unix.SYS_LANDLOCK_ADD_RULE, uintptr(set), unix.LANDLOCK_RULE_PATH_BENEATH, uintptr(unsafe.Pointer(&below)), 0, 0, 0)
	if errno != 0 {
		return fmt.Errorf("letting it at %s: %w", path, errno)
	}
	return nil
}

func landlockAbout() string {
	abi, _ := landlockABI()
	return fmt.Sprintf("ABI version %d", abi)
}
