//go:build !linux

package rulehost

import (
	"os"
	"os/exec"
	"syscall"
)

// executable names the plugin's file. Between the check and the start another
// file can be put under that name.
func executable(f *os.File) string { return f.Name() }

func extraFiles(*os.File) []*os.File { return nil }

// attributes has nothing to ask of these systems: a plugin sees by itself that
// its host is gone.
func attributes() *syscall.SysProcAttr { return nil }

// killAll ends a command that was started.
func killAll(cmd *exec.Cmd) {
	if cmd.Process != nil {
		_ = cmd.Process.Kill()
	}
}
