package rulehost

import (
	"os/exec"
	"syscall"
)

// killAll ends a command that was started, with its process group.
func killAll(cmd *exec.Cmd) {
	if cmd.Process != nil {
		_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
	}
}
