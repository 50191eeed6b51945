package rulehost_test

import (
	"bytes"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"

	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
	"example.org/rootward/server/rulehost"
)

// appended writes to the very file, as cp does over one that is there.
func appended(t *testing.T, path string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString("one byte more")
	require.NoError(t, errors.Join(err, f.Close()))
}

// another puts a build of the same table in the place of a file.
func another(t *testing.T, path string) {
	t.Helper()
	rewrite(t, path, "another build")
}

// A build that is kept for its computed rows is started long after it was admitted.
func TestAFileThatChangedSinceItWasAdmittedIsNotStarted(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	path := filepath.Join(m.dir, "hook-sound")
	rewrite(t, path, "")
	for _, dir := range []string{folder(t, "federal"), m.dir} { // it forgets the former file
		require.NoError(t, m.Load(t.Context(), dir))
	}
	info, err := os.Stat(path)
	require.NoError(t, err)
	appended(t, path)
	assert.Contains(t, m.said(t, t.Context(), demoDay, at(500))[0], "its file was changed")
	assert.NotContains(t, m.log.String(), "computes")
	assert.Equal(t, 1, strings.Count(m.log.String(), "failed to compute a row"), "it is not started anew for the other row")

	require.NoError(t, os.Truncate(path, info.Size()))
	m.pass(time.Second)
	assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(500)))
	assert.Zero(t, m.status(t).Failures)
}

// What computes a row is no part of the table's digest.
func TestAnotherBuildOfATableIsAskedAnew(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	m.said(t, t.Context(), demoDay, at(500))
	require.Equal(t, 1, m.status(t).Starts)
	another(t, filepath.Join(m.dir, "hook-sound"))
	require.NoError(t, m.Load(t.Context(), m.dir))
	assert.Equal(t, []string{bothOpen}, m.said(t, t.Context(), demoDay, at(500)))
	assert.Equal(t, 1, m.status(t).Starts, "not answered by what the former build said")
}

// Looking into the folder anew does not take a plugin from those who ask it.
func TestALoadLeavesWhatRunsAlone(t *testing.T) {
	m := hostOf(t, "hook-sound", nil)
	m.said(t, t.Context(), demoDay, at(500))
	require.NoError(t, m.Load(t.Context(), m.dir))
	assert.Equal(t, rulehost.Alive, m.status(t).State)
	m.said(t, t.Context(), demoDay, at(501))
	assert.Equal(t, 1, m.status(t).Starts)
}

// The lock pins a build, and that one computes, though others of its table lie there.
func TestTheBuildThatIsActiveComputes(t *testing.T) {
	dir := released(t, "high-tarn")
	pin(t, dir)
	host := start(t, dir)
	table := releaseOf(t, filepath.Join(dir, "high-tarn")).Table
	require.NoError(t, os.Link(filepath.Join(built, "high-tarn"), filepath.Join(dir, "a-build")))
	another(t, filepath.Join(dir, "a-build"))
	sign(t, dir, "a-build", nil, key())
	assert.Empty(t, problems(t, host))
	_, err := host.Retire(t.Context(), "high-tarn", table, "A. Operator")
	require.NoError(t, err)
	host.Compared("", table)
	_, err = host.Activate(t.Context(), table, "", "A. Operator")
	require.NoError(t, err)
	lock, err := rulerelease.ReadLock(dir)
	require.NoError(t, err)
	require.Len(t, rulehost.StatusOf(host), 1)
	assert.Equal(t, lock.Active("high-tarn").File, rulehost.StatusOf(host)[0].File)
}

// What is revoked goes, whether its file is still there or not.
func TestARevokedReleaseGoesWithItsFile(t *testing.T) {
	dir := released(t, "federal", "velmora")
	pin(t, dir)
	host := start(t, dir)
	trust(t, dir, "    places: [us]\n    layers: [federal]\n", key())
	require.NoError(t, os.Remove(filepath.Join(dir, "velmora")))
	require.NoError(t, host.Load(t.Context(), dir))
	assert.Equal(t, []string{"federal"}, ids(host.Catalog()))
}

// Whoever may put files into the folder must not be able to stop the server.
func TestAPipeInTheFolderHoldsNothingUp(t *testing.T) {
	dir := released(t, "federal", "velmora")
	pin(t, dir)
	pipe := filepath.Join(dir, "velmora"+rulerelease.Extension)
	require.NoError(t, os.Remove(pipe))
	require.NoError(t, unix.Mkfifo(pipe, 0o600))
	host := operated(t, rulehost.Config{})
	loaded := make(chan error, 1)
	go func() { loaded <- host.Load(t.Context(), dir) }()
	select {
	case err := <-loaded:
		require.NoError(t, err)
		assert.Contains(t, notLoaded(host.Catalog())["velmora"], "is not a file")
	case <-time.After(soon):
		t.Error("Load waits for the pipe")
		w, err := os.OpenFile(pipe, os.O_WRONLY, 0) // lets it go on
		require.NoError(t, errors.Join(err, w.Close(), <-loaded))
	}
}

// A file of no size on the disk takes hours to read.
func TestAHugeFileIsNotRead(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "huge")
	require.NoError(t, os.WriteFile(path, nil, 0o700))
	require.NoError(t, os.Truncate(path, 1<<32))
	assert.Contains(t, notLoaded(load(t, dir))["huge"], "has 4294967296 bytes")
}

// A name is shown on the operator's screen.
func TestAFileWithAnUnprintableNameIsNotRun(t *testing.T) {
	dir := folder(t, "federal")
	require.NoError(t, os.Link(filepath.Join(built, "velmora"), filepath.Join(dir, "vel\x1b[2Jmora")))
	c := load(t, dir)
	assert.Equal(t, []string{"federal"}, ids(c))
	require.Len(t, c.NotLoaded, 1)
	assert.NotContains(t, c.NotLoaded[0].Where, "\x1b")
	assert.Contains(t, c.NotLoaded[0].Problem, "name")
}

// So is what a plugin says of itself.
func TestWhatAPluginSaysIsCleaned(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "no-program"), []byte("#!/\x1b[2J\n"), 0o700))
	assert.NotContains(t, notLoaded(load(t, dir))["no-program"], "\x1b")
	for text, want := range map[string]string{"a\x1b[2Jb\nc": "a\uFFFD[2Jb\nc", "plain": "plain"} {
		assert.Equal(t, want, rulehost.PrintableLines(text))
	}
}

// A plugin says where it listens. The server connects to its own folder and nowhere
// else: it may reach what the plugin may not.
func TestAPluginSendsTheServerNowhere(t *testing.T) {
	for name, c := range map[string]struct {
		network, address string
		ok               bool
	}{
		"its own folder":    {"unix", "/tmp/rw/room/socket", true},
		"TCP":               {"tcp", "127.0.0.1:22", false},
		"a name to look up": {"tcp", "a.example:22", false},
		"another socket":    {"unix", "/run/other.sock", false},
		"a way out":         {"unix", "/tmp/rw/room/../other/socket", false},
		"without a name":    {"unix", "@abstract", false},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, c.ok, rulehost.Dials("/tmp/rw/room", c.network, c.address))
		})
	}
}

// The broker keeps what a plugin sends it without limit.
func TestTheBrokerIsNotOpened(t *testing.T) {
	listener, err := net.Listen("unix", filepath.Join(shortFolder(t), "s"))
	require.NoError(t, err)
	server := grpc.NewServer(grpc.UnknownServiceHandler(func(_ any, stream grpc.ServerStream) error {
		return stream.SendMsg(&bytes.Buffer{})
	}))
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(server.Stop)
	options := append(rulehost.ClientConfig().GRPCDialOptions, grpc.WithTransportCredentials(insecure.NewCredentials()))
	conn, err := grpc.NewClient("unix:"+listener.Addr().String(), options...)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	both := &grpc.StreamDesc{ServerStreams: true, ClientStreams: true}
	_, err = conn.NewStream(t.Context(), both, "/plugin.GRPCBroker/StartStream")
	assert.Equal(t, codes.Unimplemented, status.Code(err))
	_, err = conn.NewStream(t.Context(), both, "/plugin.GRPCStdio/StreamStdio")
	assert.NoError(t, err)
}

// Another server that changes the lock at this moment would be written over.
func TestTwoServersDoNotChangeTheLockAtOnce(t *testing.T) {
	e := twoEditions(t)
	other, err := os.OpenFile(filepath.Join(e.dir, ".rules.lock.changing"), os.O_CREATE|os.O_RDWR, 0o600)
	require.NoError(t, err)
	require.NoError(t, unix.Flock(int(other.Fd()), unix.LOCK_EX|unix.LOCK_NB))
	_, err = e.host.Retire(t.Context(), "velmora", e.old, "A. Operator")
	assertRefused(t, err, "CHANGED_MEANWHILE")
	assert.Equal(t, e.old, digestOf(t, e.host, "velmora"))
	require.NoError(t, other.Close())
	_, err = e.host.Retire(t.Context(), "velmora", e.old, "A. Operator")
	require.NoError(t, err)
}

// A row without anything in it has two bytes, and some hundred once it is read: what is
// wrong with each would fill the server's memory.
func TestATableOfManyRowsIsNotRead(t *testing.T) {
	require.NoError(t, rulehost.FewRows(&ruletablev1.Table{Rows: make([]*ruletablev1.Row, rules.MaxRows)}))
	assert.ErrorContains(t, rulehost.FewRows(&ruletablev1.Table{Rows: make([]*ruletablev1.Row, rules.MaxRows+1)}), "has 4097 rows")
	assert.ErrorContains(t, rulehost.FewRows(&ruletablev1.Table{Cases: make([]*ruletablev1.Case, rules.MaxCases+1)}), "4097 worked cases")
}

func TestAFolderThatEveryoneCanWriteToIsNamed(t *testing.T) {
	for mode, warns := range map[os.FileMode]bool{0o755: false, 0o777: true} {
		dir, log := folder(t, "federal"), &journal{}
		require.NoError(t, os.Chmod(dir, mode))
		require.NoError(t, operated(t, rulehost.Config{Log: log.logger()}).Load(t.Context(), dir))
		assert.Equal(t, warns, strings.Contains(log.String(), "everyone can write to it"))
	}
}
