package ruletest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/ruleplugin/hosting"
	goplugin "github.com/hashicorp/go-plugin"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// CheckBinary builds the plugin in the folder and gives it to CheckExecutable.
func CheckBinary(t T, dir string) *rules.Set {
	t.Helper()
	binary := filepath.Join(t.TempDir(), "plugin")
	cmd := exec.CommandContext(t.Context(), "go", "build", "-o", binary, ".")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0") // a host lets a plugin read no library
	if out, err := cmd.CombinedOutput(); err != nil {
		fail(t, "it does not build: %s\n%s", err, out)
	}
	return CheckExecutable(t, binary)
}

// CheckExecutable fails the test unless a built plugin, in whatever language it was
// written,
//   - describes itself, and refuses to be started by hand and says how it is asked,
//   - refuses a host that gives no certificate to speak with by mutual TLS,
//   - shakes hands, and gives the table that it described, the same at each call and
//     whatever its environment, within the time that a host waits,
//   - refuses a host that speaks another contract,
//   - leaves standard output alone and writes no file,
//   - ends when its host ends it, and when its host is gone.
//
// It gives the rule set that the plugin serves.
func CheckExecutable(t T, path string) *rules.Set {
	t.Helper()
	path, err := filepath.Abs(path)
	require.NoError(t, err)
	description := describe(t, path, nil)
	refusesByHand(t, path)
	refusesWithoutTLS(t, path)
	var set *rules.Set
	for _, environment := range environments {
		set = checkRun(t, path, environment)
		if set == nil {
			return nil
		}
		if served := ruleplugin.Describe(set); described(served) != described(description) {
			t.Errorf("what it describes with %s is not what it serves (environment %q):\n%s\n%s",
				ruleplugin.DescribeFlag, environment, described(description), described(served))
		}
		if again := describe(t, path, environment); described(again) != described(description) {
			t.Errorf("it describes itself in two ways, by its environment %q", environment)
		}
	}
	endsWithItsHost(t, path)
	return set
}

// environments are those that a plugin is started in; the first is a host's.
var environments = [][]string{
	{},
	{"GOMAXPROCS=1", "TZ=Pacific/Kiritimati", "LANG=tr_TR.UTF-8", "LC_ALL=tr_TR.UTF-8", "HOME=/nonexistent"},
}

// described is the parts of a description that are of the table.
func described(d ruleplugin.Description) string {
	return fmt.Sprintf("%s %s, contract %d, %s of %s, %q by %q, %s to %s, review by %s, %d rows, %d cases, digest %s",
		d.RuleSetID, d.Version, d.ContractVersion, d.Layer, d.Scope, d.Title, d.Publisher, d.ValidFrom, d.ValidTo, d.ReviewBy, d.Rows, d.Cases, d.Digest)
}

// checkRun starts the plugin as a host does, asks it, and ends it.
func checkRun(t T, path string, environment []string) *rules.Set {
	t.Helper()
	dir := t.TempDir()
	var stdout journal
	client, cmd, service := connect(t, path, dir, environment, &stdout)
	set := compileOften(t, service)
	refusesOtherContracts(t, service)
	quiet(t, &stdout)
	endsWhenAsked(t, client, cmd)
	if text := stdout.String(); text != "" {
		t.Errorf("it writes to standard output, which belongs to the handshake: %q", shorten(text))
	}
	writesNoFile(t, dir)
	return set
}

// endsWhenAsked closes the connection. go-plugin kills what has not ended two
// seconds later, and waits without limit for a child that holds the output open.
func endsWhenAsked(t T, client *goplugin.Client, cmd *exec.Cmd) {
	t.Helper()
	if !killWithin(client, limitsOf(t).End) {
		fail(t, "it does not end within %s when its host ends it; did it start another process?", limitsOf(t).End)
	}
	if cmd.ProcessState.ExitCode() < 0 {
		t.Errorf("it does not end when its host asks it to and closes the connection; it had to be killed")
	}
}

func killWithin(client *goplugin.Client, limit time.Duration) bool {
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		client.Kill()
	}()
	select {
	case <-ended:
		return true
	case <-time.After(limit):
		return false
	}
}

// quiet waits for what a plugin has to say when it thinks that nobody listens.
func quiet(t T, stdout *journal) {
	end := time.Now().Add(limitsOf(t).Quiet)
	for time.Now().Before(end) && stdout.String() == "" {
		time.Sleep(5 * time.Millisecond)
	}
}

func writesNoFile(t T, dir string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	entries = slices.DeleteFunc(entries, func(e os.DirEntry) bool { return e.Type()&os.ModeSocket != 0 })
	for _, e := range entries {
		t.Errorf("it writes a file, %s; a host lets it write none", e.Name())
	}
}

func refusesOtherContracts(t T, service pluginv1.RulePluginServiceClient) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), limitsOf(t).Answer)
	defer cancel()
	_, err := service.Compile(ctx, &pluginv1.CompileRequest{ContractVersion: ruleplugin.ContractVersion + 1})
	if status.Code(err) != codes.FailedPrecondition {
		t.Errorf("asked for contract %d it answers %v; it must refuse with FAILED_PRECONDITION what it does not speak", ruleplugin.ContractVersion+1, err)
	}
}

// output runs the plugin to its end in an empty folder.
func output(t T, path string, environment []string, args ...string) (stdout, stderr string, err error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), limitsOf(t).Start)
	defer cancel()
	var out, complaint bytes.Buffer
	cmd := exec.CommandContext(ctx, path, args...)
	cmd.Dir = t.TempDir()
	cmd.Env = slices.Concat([]string{}, environment)
	cmd.Stdout, cmd.Stderr, cmd.WaitDelay = &out, &complaint, time.Second
	cmd.SysProcAttr = ownGroup()
	err = cmd.Run()
	if cmd.Process != nil {
		killGroup(cmd.Process)
	}
	if ctx.Err() != nil {
		fail(t, "with the arguments %q and the environment %q it does not end within %s", args, environment, limitsOf(t).Start)
	}
	writesNoFile(t, cmd.Dir)
	return out.String(), complaint.String(), err
}

func describe(t T, path string, environment []string) ruleplugin.Description {
	t.Helper()
	stdout, stderr, err := output(t, path, environment, ruleplugin.DescribeFlag)
	if err != nil {
		fail(t, "it does not describe itself with %s: %s: %s", ruleplugin.DescribeFlag, err, shorten(stderr))
	}
	d, err := ruleplugin.ReadDescription([]byte(stdout))
	if err != nil {
		fail(t, "it answers %s with what is %s", ruleplugin.DescribeFlag, err)
	}
	if d.ContractVersion != ruleplugin.ContractVersion {
		fail(t, "it speaks contract %d, not %d; build it with the kit of the host's version", d.ContractVersion, ruleplugin.ContractVersion)
	}
	return d
}

func refusesByHand(t T, path string) {
	t.Helper()
	stdout, stderr, err := output(t, path, nil)
	if failed := (*exec.ExitError)(nil); !errors.As(err, &failed) {
		t.Errorf("started by hand it should refuse with an exit code, and gives %v", err)
	}
	if !strings.Contains(stderr, ruleplugin.DescribeFlag) {
		t.Errorf("started by hand it should say on standard error that %s tells what it holds; it says %q", ruleplugin.DescribeFlag, shorten(stderr))
	}
	if stdout != "" {
		t.Errorf("started by hand it writes to standard output: %q", shorten(stdout))
	}
}

// refusesWithoutTLS starts the plugin as a host does that gives no certificate.
func refusesWithoutTLS(t T, path string) {
	t.Helper()
	stdout, stderr, err := output(t, path, []string{ruleplugin.Cookie + "=" + ruleplugin.CookieValue})
	if failed := (*exec.ExitError)(nil); !errors.As(err, &failed) || stdout != "" {
		t.Errorf("started without %s it should serve nobody and refuse with an exit code; it gives %v and writes %q", ruleplugin.ClientCertificate, err, shorten(stdout))
	}
	if !strings.Contains(stderr, ruleplugin.ClientCertificate) {
		t.Errorf("started without %s it should say so on standard error; it says %q", ruleplugin.ClientCertificate, shorten(stderr))
	}
}

// connect starts the plugin. Only what go-plugin itself needs is in its environment
// besides what is given.
func connect(t T, path, dir string, environment []string, stdout *journal) (*goplugin.Client, *exec.Cmd, pluginv1.RulePluginServiceClient) {
	t.Helper()
	cmd := exec.Command(path) // ended by Kill, after the test's context
	cmd.Dir, cmd.Env, cmd.SysProcAttr = dir, slices.Concat([]string{}, environment), ownGroup()
	var stderr journal
	client := goplugin.NewClient(&goplugin.ClientConfig{
		HandshakeConfig:  hosting.Handshake,
		Plugins:          hosting.Plugins(),
		Cmd:              cmd,
		AllowedProtocols: []goplugin.Protocol{goplugin.ProtocolGRPC},
		AutoMTLS:         true,
		SkipHostEnv:      true,
		StartTimeout:     limitsOf(t).Start,
		Logger:           hosting.Silent(),
		Stderr:           &stderr,
		SyncStdout:       stdout,
		GRPCDialOptions:  []grpc.DialOption{grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxTable))},
	})
	t.Cleanup(func() { forceEnd(client, cmd) })
	connection, err := client.Client()
	if err != nil {
		forceEnd(client, cmd) // waits until all that it said has been read
		fail(t, "it does not shake hands with a host: %s\n%s", shorten(err.Error()), shorten(stderr.String()))
	}
	served, err := connection.Dispense(ruleplugin.Name)
	if err != nil {
		fail(t, "it does not serve a rule set: %s", shorten(err.Error()))
	}
	return client, cmd, served.(pluginv1.RulePluginServiceClient)
}

// forceEnd kills what does not end, and what the plugin has left behind.
func forceEnd(client *goplugin.Client, cmd *exec.Cmd) {
	if cmd.Process != nil {
		killGroup(cmd.Process)
	}
	killWithin(client, time.Second)
}

// journal keeps what several goroutines write.
type journal struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (j *journal) Write(b []byte) (int, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.text.Write(b)
}

func (j *journal) String() string {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.text.String()
}

func shorten(s string) string {
	const longest = 1_000
	if len(s) > longest {
		return s[:longest] + " ..."
	}
	return strings.TrimSpace(s)
}
