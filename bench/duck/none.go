//go:build !cgo

package duck

import (
	"errors"
	"time"
)

// Prescribe tells that DuckDB was not built in.
func Prescribe(string, string, int) (time.Duration, error) {
	return 0, errors.New("DuckDB needs a C compiler: the bench was built without (CGO_ENABLED=0)")
}
