//go:build linux

package confine

import (
	"fmt"
	"os"

	"github.com/landlock-lsm/go-landlock/landlock"
	ll "github.com/landlock-lsm/go-landlock/landlock/syscall"
)

// ownFile is the plugin's file, by the descriptor that was checked.
var ownFile = fmt.Sprintf("/proc/self/fd/%d", pluginFD)

// minABI has all rights over files, with Linux 6.2. What later ones add, TCP (4),
// devices (5) and signals (6), seccomp refuses too.
const minABI = 3

// socketFolder is what go-plugin v1.8.0 needs to find a free name for its socket: it
// makes a file, removes it and puts the socket in its place.
const socketFolder = landlock.AccessFSSet(ll.AccessFSMakeSock | ll.AccessFSMakeReg | ll.AccessFSReadFile |
	ll.AccessFSWriteFile | ll.AccessFSRemoveFile)

const (
	readFile   = landlock.AccessFSSet(ll.AccessFSExecute | ll.AccessFSReadFile)
	readFolder = readFile | landlock.AccessFSSet(ll.AccessFSReadDir)
)

// enterLandlock refuses all that Landlock knows of here, but for the plugin's own.
func enterLandlock(o *order, _ *execution) error {
	abi, err := ll.LandlockGetABIVersion()
	if err != nil {
		return fmt.Errorf("the kernel has none: %w", err)
	}
	if abi < minABI {
		return fmt.Errorf("the kernel has its ABI version %d, %d is needed", abi, minABI)
	}
	rules, err := landlockRules(o)
	if err != nil {
		return err
	}
	return landlock.V11.BestEffort().Restrict(rules...)
}

func landlockRules(o *order) ([]landlock.Rule, error) {
	var rules []landlock.Rule
	if !o.Probe && o.Sockets != "" {
		rules = append(rules, landlock.PathAccess(socketFolder, o.Sockets))
	}
	if _, err := os.Stat(ownFile); err == nil {
		rules = append(rules, landlock.PathAccess(readFile, ownFile))
	}
	for _, path := range o.Read {
		info, err := os.Stat(path)
		switch {
		case err != nil:
			return nil, fmt.Errorf("it is to read what is not there: %w", err)
		case info.IsDir():
			rules = append(rules, landlock.PathAccess(readFolder, path))
		default:
			rules = append(rules, landlock.PathAccess(readFile, path))
		}
	}
	return rules, nil
}

func landlockAbout() string {
	abi, _ := ll.LandlockGetABIVersion()
	return fmt.Sprintf("ABI version %d", abi)
}
