package rootward_test

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A guide is a script: its sh blocks are run in their order, in one shell, in a copy
// of the repository. A text block is what the sh block before it prints, in part:
// each of its lines is found there, with anything for "...".
func TestTheAuthorsGuideIsTrue(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the programs and a rule set")
	}
	blocks := blocksOf(t, "docs/authors-guide.md")
	require.NotEmpty(t, blocks)
	printed := runBlocks(t, copyOfRepository(t), blocks)
	for i, b := range blocks {
		for _, line := range b.prints {
			assert.True(t, hasLine(printed[i], line), "docs/authors-guide.md:%d does not print %q but\n%s", b.line, line, printed[i])
		}
	}
}

// Documents that prescribe and explain the same inventory ask under the same day and standing,
// or they would show two answers for one tree.
func TestDocumentsAskOneInventoryInTheSameWay(t *testing.T) {
	asks := regexp.MustCompile(`rootward (?:prescribe|explain|batch submit) (\S+\.csv)\b([^\n` + "`" + `]*)`)
	settings := regexp.MustCompile(`--(?:date|standing) \S+`)
	for _, document := range []string{"README.md", "docs/quick-start.md"} {
		text, err := os.ReadFile(document)
		require.NoError(t, err)
		all := asks.FindAllStringSubmatch(string(text), -1)
		require.Greater(t, len(all), 1, document)
		for _, ask := range all {
			assert.Equal(t, settings.FindAllString(all[0][2], -1), settings.FindAllString(ask[2], -1), "%s: %s", document, ask[0])
		}
	}
}

// block is commands of a document and what they print.
type block struct {
	line   int
	run    string
	prints []string
}

func blocksOf(t *testing.T, document string) []block {
	t.Helper()
	text, err := os.ReadFile(document)
	require.NoError(t, err)
	var blocks []block
	fence := ""
	for i, line := range strings.Split(string(text), "\n") {
		opens, ok := strings.CutPrefix(line, "```")
		switch {
		case ok && fence == "" && opens == "sh":
			fence, blocks = opens, append(blocks, block{line: i + 1})
		case ok && fence == "":
			fence = opens + " block"
		case ok:
			fence = ""
		case fence == "sh":
			blocks[len(blocks)-1].run += line + "\n"
		case fence == "text block" && len(blocks) > 0:
			blocks[len(blocks)-1].prints = append(blocks[len(blocks)-1].prints, line)
		}
	}
	return blocks
}

// divider separates what the blocks print.
const divider = "== block"

// guideLimit is far beyond the time that a reader needs, on a busy machine.
const guideLimit = 10 * time.Minute

func runBlocks(t *testing.T, dir string, blocks []block) []string {
	t.Helper()
	script := "set -eu\n"
	for _, b := range blocks {
		script += fmt.Sprintf("%s\necho '%s'\n", b.run, divider)
	}
	ctx, cancel := context.WithTimeout(t.Context(), guideLimit)
	defer cancel()
	var out bytes.Buffer
	sh := exec.CommandContext(ctx, "sh", "-c", script)
	sh.Dir, sh.Env, sh.Stdout, sh.Stderr = dir, readersEnvironment(), &out, &out
	sh.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	sh.Cancel = func() error { return syscall.Kill(-sh.Process.Pid, syscall.SIGKILL) }
	sh.WaitDelay = 5 * time.Second
	err := sh.Run()
	_ = syscall.Kill(-sh.Process.Pid, syscall.SIGKILL) // the server, where a block failed
	printed := strings.Split(out.String(), divider+"\n")
	if err != nil {
		failed := blocks[min(len(printed), len(blocks))-1]
		require.NoError(t, err, "docs/authors-guide.md:%d\n%s\n%s", failed.line, failed.run, printed[len(printed)-1])
	}
	return printed
}

// readersEnvironment is that of someone who has set nothing for Rootward.
func readersEnvironment() []string {
	return slices.DeleteFunc(os.Environ(), func(e string) bool { return strings.HasPrefix(e, "ROOTWARD_") })
}

// copyOfRepository is the tree without what was built in it.
func copyOfRepository(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "rootward")
	notCopied := []string{".git", ".tools", "bin", "out"}
	require.NoError(t, filepath.WalkDir(".", func(path string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir() && slices.Contains(notCopied, path):
			return filepath.SkipDir
		case e.IsDir():
			return os.MkdirAll(filepath.Join(dir, path), 0o755)
		case !e.Type().IsRegular():
			return nil
		}
		return copyFile(path, filepath.Join(dir, path))
	}))
	return dir
}

func copyFile(from, to string) error {
	info, err := os.Stat(from)
	if err != nil {
		return err
	}
	text, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	return os.WriteFile(to, text, info.Mode().Perm())
}

// hasLine reports whether a line of the text holds the parts of want, between which
// there is "...", in their order.
func hasLine(text, want string) bool {
	return slices.ContainsFunc(strings.Split(text, "\n"), func(line string) bool {
		for _, part := range strings.Split(strings.TrimSpace(want), "...") {
			_, rest, found := strings.Cut(line, strings.TrimSpace(part))
			if !found {
				return false
			}
			line = rest
		}
		return true
	})
}
