//go:build !linux

package command

import (
	"errors"
	"os"
)

var errNotPast = errors.ErrUnsupported

// pastCache fails: files are written through the kernel's cache.
func pastCache(*os.File, bool) error { return errNotPast }
