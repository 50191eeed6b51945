package ruletest

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"example.org/rootward/rules/ruleplugin"
)

// startAndTell starts the plugin in the background and tells its process id: a
// shell is the host that is killed.
const startAndTell = `"$1" & echo "process $!"; wait`

// endsWithItsHost kills a host that has no time to say good-bye, and does not ask
// the kernel to end its plugin.
func endsWithItsHost(t T, path string) {
	t.Helper()
	shell, err := exec.LookPath("sh")
	if err != nil {
		return
	}
	own, err := ruleplugin.Certificate()
	if err != nil {
		fail(t, "no host can be started: %s", err)
	}
	host := exec.CommandContext(t.Context(), shell, "-c", startAndTell, "host", path)
	host.Dir = t.TempDir()
	host.Env = []string{
		ruleplugin.Cookie + "=" + ruleplugin.CookieValue,
		ruleplugin.ClientCertificate + "=" + string(ruleplugin.PEM(own)),
		"PLUGIN_PROTOCOL_VERSIONS=" + strconv.Itoa(ruleplugin.ContractVersion),
		"TMPDIR=" + host.Dir,
	}
	plugin := startHost(t, host)
	defer func() { _ = syscall.Kill(plugin, syscall.SIGKILL) }()
	_ = host.Process.Kill()
	_ = host.Wait()
	for end := time.Now().Add(limitsOf(t).End); !dead(plugin); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Errorf("it lives on %s after its host was killed; it must see by itself that its host is gone", limitsOf(t).End)
			return
		}
	}
}

// startHost gives the plugin's process id once the plugin has shaken hands.
func startHost(t T, host *exec.Cmd) int {
	t.Helper()
	out, err := host.StdoutPipe()
	if err == nil {
		err = host.Start()
	}
	if err != nil {
		fail(t, "no host can be started: %s", err)
	}
	timer := time.AfterFunc(limitsOf(t).Start, func() { _ = host.Process.Kill() })
	defer timer.Stop()
	plugin, shaken := 0, false
	for lines := bufio.NewScanner(out); (plugin == 0 || !shaken) && lines.Scan(); {
		if id, ok := strings.CutPrefix(lines.Text(), "process "); ok {
			plugin, _ = strconv.Atoi(id)
		} else {
			shaken = true
		}
	}
	if plugin == 0 || !shaken {
		fail(t, "it does not shake hands with a host that a shell starts within %s", limitsOf(t).Start)
	}
	return plugin
}

// dead reports whether a process is gone, or is dead and only waits for its
// parent to look.
func dead(process int) bool {
	stat, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(process), "stat"))
	return err != nil || strings.Contains(string(stat), ") Z ")
}

// ownGroup gives a plugin a process group, so that what it starts can be ended too.
func ownGroup() *syscall.SysProcAttr { return &syscall.SysProcAttr{Setpgid: true} }

func killGroup(p *os.Process) { _ = syscall.Kill(-p.Pid, syscall.SIGKILL) }
