package rulehost

import (
	"os"
	"os/exec"
	"syscall"
)

// inheritedFile is where the one extra file lies in the plugin: after its
// standard streams.
const inheritedFile = "/proc/self/fd/3"

// executable names the file that is already open, so that nothing can be put in
// its place between the check and the start.
func executable(*os.File) string { return inheritedFile }

func extraFiles(f *os.File) []*os.File { return []*os.File{f} }

// attributes lets the kernel end the plugin when the thread that started it ends,
// and puts it into a process group that can be killed as a whole.
func attributes() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}

// killAll ends a command that was started, with its process group.
func killAll(cmd *exec.Cmd) {
	if cmd.Process != nil {
		_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
	}
}
