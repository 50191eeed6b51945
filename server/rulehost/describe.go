package rulehost

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os/exec"
	"runtime"

	"example.org/rootward/rules/ruleplugin"
)

// What a plugin may write when it describes itself.
const (
	maxDescription = 64 << 10
	maxComplaint   = 2 << 10
)

// describe asks the plugin what it is, before any handshake.
func (p *plugin) describe(ctx context.Context) (ruleplugin.Description, error) {
	ctx, cancel := context.WithTimeout(ctx, p.config.StartTimeout)
	defer cancel()
	stdout, stderr := &clipped{limit: maxDescription}, &clipped{limit: maxComplaint}
	cmd, err := p.command([]string{ruleplugin.DescribeFlag}, nil, "")
	if err != nil {
		return ruleplugin.Description{}, err
	}
	cmd.Stdout, cmd.Stderr = newPaced(stdout), newPaced(stderr)
	runtime.LockOSThread() // the kernel ends it when the thread ends that started it
	defer runtime.UnlockOSThread()
	if err := cmd.Start(); err != nil {
		return ruleplugin.Description{}, fmt.Errorf("cannot be started: %w; build it for this machine", err)
	}
	stop := context.AfterFunc(ctx, func() { killAll(cmd) })
	defer stop()
	err = cmd.Wait()
	killAll(cmd)
	var failed *exec.ExitError
	switch {
	case ctx.Err() != nil:
		return ruleplugin.Description{}, fmt.Errorf("did not describe itself within %s; see whether it hangs with %s", p.config.StartTimeout, ruleplugin.DescribeFlag)
	case errors.As(err, &failed):
		return ruleplugin.Description{}, fmt.Errorf("does not describe itself (%s); see what it says with %s: %s", failed, ruleplugin.DescribeFlag, shorten(stderr.String(), maxComplaint))
	case err != nil:
		return ruleplugin.Description{}, fmt.Errorf("does not describe itself: %w", err)
	}
	d, err := ruleplugin.ReadDescription(stdout.Bytes())
	if err != nil {
		return ruleplugin.Description{}, fmt.Errorf("answers %s with what is %w; is it a rule plugin? Rebuild it, or take it out of the folder", ruleplugin.DescribeFlag, err)
	}
	return d, nil
}

// clipped keeps the first bytes that are written to it and drops the rest.
type clipped struct {
	bytes.Buffer
	limit int
}

func (c *clipped) Write(b []byte) (int, error) {
	c.Buffer.Write(b[:min(len(b), max(0, c.limit-c.Len()))])
	return len(b), nil
}
