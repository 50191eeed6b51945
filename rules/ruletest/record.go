package ruletest

import (
	"context"
	"fmt"
	"os"
	"runtime"
	"strings"
	"sync"
)

// T is what the kit needs of a test. *testing.T is one.
type T interface {
	Helper()
	Errorf(format string, args ...any)
	FailNow()
	TempDir() string
	Cleanup(func())
	Context() context.Context
}

// Found runs a part of the kit and gives what it found wrong, where a test would
// fail. It is for those who want to know what the kit would say.
func Found(run func(t T)) []string {
	ctx, cancel := context.WithCancel(context.Background())
	r := &recorder{ctx: ctx}
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer r.cleanUp()
		defer cancel() // before the clean-up, as for a test
		defer r.recoverPanic()
		run(r)
	}()
	<-done
	return r.found
}

// recorder is a T that keeps what a test would print.
type recorder struct {
	ctx      context.Context
	mu       sync.Mutex
	found    []string
	cleanups []func()
}

func (r *recorder) Helper()                  {}
func (r *recorder) FailNow()                 { runtime.Goexit() }
func (r *recorder) Context() context.Context { return r.ctx }

func (r *recorder) Errorf(format string, args ...any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.found = append(r.found, strings.TrimSpace(fmt.Sprintf(format, args...)))
}

func (r *recorder) Cleanup(f func()) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.cleanups = append(r.cleanups, f)
}

func (r *recorder) TempDir() string {
	dir, err := os.MkdirTemp("", "ruletest-")
	if err != nil {
		r.Errorf("no temporary folder: %s", err)
		r.FailNow()
	}
	r.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

func (r *recorder) recoverPanic() {
	if p := recover(); p != nil {
		r.Errorf("panic: %v", p)
	}
}

func (r *recorder) cleanUp() {
	for i := len(r.cleanups) - 1; i >= 0; i-- {
		r.cleanups[i]()
	}
}
