package daemon

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
)

// ProgramName is the server's file name.
const ProgramName = "rootwardd"

// Find looks for the server beside the running program, then in PATH.
func Find() (string, error) {
	own, err := os.Executable()
	if err == nil {
		if path := filepath.Join(filepath.Dir(own), ProgramName); isProgram(path) {
			return path, nil
		}
	}
	path, err := exec.LookPath(ProgramName)
	if err != nil {
		return "", fmt.Errorf("%s is neither beside %s nor in PATH; build it with make build, name it with --rootwardd, or name a running server with --server", ProgramName, own)
	}
	return path, nil
}

func isProgram(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular() && info.Mode()&0o111 != 0
}

// rulesBeside is the folder of rule sets that belongs to a server.
func rulesBeside(program string) (string, error) {
	folder := filepath.Join(filepath.Dir(program), "rules")
	if _, err := os.Stat(folder); errors.Is(err, os.ErrNotExist) {
		return "", fmt.Errorf("the folder %s of rule sets does not exist; build it with make build, or name one with --rules", folder)
	}
	return folder, nil
}
