package rootward_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A script whose reader goes away, as head does, ends its server and removes its folder.
func TestScriptsLeaveNothingBehindWhenTheirReaderGoesAway(t *testing.T) {
	scripts, err := filepath.Glob("testdata/*/*.sh")
	require.NoError(t, err)
	require.NotEmpty(t, scripts)
	for _, script := range scripts {
		t.Run(script, func(t *testing.T) {
			// The script runs beside programs of which only the server does something: it is there.
			root := t.TempDir()
			temporary, err := os.MkdirTemp("/tmp", "s") // scripts do not use a long one
			require.NoError(t, err)
			t.Cleanup(func() { os.RemoveAll(temporary) })
			text, err := os.ReadFile(script)
			require.NoError(t, err)
			pid := filepath.Join(root, "pid")
			for name, content := range map[string]string{
				script:          string(text),
				"bin/rootwardd": "#!/bin/sh\necho $$ >'" + pid + "'\necho ready unix:nowhere\nexec sleep 60\n",
				"bin/rootward":  "#!/bin/sh\n",
				"bin/rules":     "",
			} {
				path := filepath.Join(root, name)
				require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
				require.NoError(t, os.WriteFile(path, []byte(content), 0o755))
			}
			read, write, err := os.Pipe()
			require.NoError(t, err)
			require.NoError(t, read.Close())
			defer write.Close()
			c := exec.Command(filepath.Join(root, script))
			c.Env = append(os.Environ(), "TMPDIR="+temporary)
			c.Stdout, c.Stderr = write, write
			require.Error(t, c.Run())

			left, err := os.ReadDir(temporary)
			require.NoError(t, err)
			assert.Empty(t, left)
			told, err := os.ReadFile(pid)
			require.NoError(t, err, "the server had been started")
			server, err := strconv.Atoi(strings.TrimSpace(string(told)))
			require.NoError(t, err)
			if !assert.Eventually(t, func() bool { return syscall.Kill(server, 0) == syscall.ESRCH }, 5*time.Second, 10*time.Millisecond, "the server is gone") {
				assert.NoError(t, syscall.Kill(server, syscall.SIGKILL))
			}
		})
	}
}
