//go:build !linux

package confine

import (
	"errors"
	"os"
	"os/exec"
)

// Layers says that no layer is there.
func Layers() []Layer {
	var list []Layer
	for _, name := range []string{"rlimits", "landlock", "seccomp"} {
		list = append(list, Layer{Name: name, Detail: "only on Linux"})
	}
	return list
}

// Command gives the plugin as a plain command, under the name that it was opened by,
// if the policy allows that no layer is there.
func Command(file *os.File, name string, args, env []string, _ string, p Policy) (*exec.Cmd, error) {
	if !p.AllowMissing {
		return nil, &MissingError{Layers: Layers()}
	}
	return &exec.Cmd{Path: file.Name(), Args: append([]string{name}, args...), Env: append([]string{}, env...)}, nil
}

// Exceeded cannot tell on these systems.
func Exceeded(int, Policy) error { return errors.ErrUnsupported }
