package main_test

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"example.org/rootward/rules/ruletest"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files")

const agency = "testdata/lower-brack.yaml"

// tablefile is the program, built once.
var tablefile string

func TestMain(m *testing.M) {
	flag.Parse()
	os.Exit(testAll(m))
}

func testAll(m *testing.M) int {
	dir, err := os.MkdirTemp("", "tablefile")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	tablefile = filepath.Join(dir, "tablefile")
	if out, err := exec.Command("go", "build", "-o", tablefile, ".").CombinedOutput(); err != nil {
		panic(err.Error() + "\n" + string(out))
	}
	return m.Run()
}

// run gives what a program writes and its exit code.
func run(t *testing.T, program string, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), program, args...)
	cmd.Env = []string{}
	out, err := cmd.Output()
	if failed, ok := err.(*exec.ExitError); ok {
		return string(out), string(failed.Stderr), failed.ExitCode()
	}
	require.NoError(t, err)
	return string(out), "", 0
}

// A bound program is a rule plugin as any other, and holds its text unchanged.
func TestBoundProgramIsARulePlugin(t *testing.T) {
	plugin := filepath.Join(t.TempDir(), "lower-brack")
	stdout, stderr, code := run(t, tablefile, "--bind", agency, plugin)
	require.Zero(t, code, stderr)
	set := ruletest.CheckExecutable(t, plugin)
	assert.Contains(t, stdout, set.Ref.Digest)
	want, err := os.ReadFile(agency)
	require.NoError(t, err)
	printed, _, code := run(t, plugin, "--print")
	assert.Zero(t, code)
	assert.Equal(t, string(want), printed)
	printed, _, _ = run(t, tablefile, "--print", plugin)
	assert.Equal(t, string(want), printed)
	boundAgain(t, plugin)
}

// A bound program binds another text in the place of its own.
func boundAgain(t *testing.T, plugin string) {
	t.Helper()
	again := filepath.Join(t.TempDir(), "again")
	_, stderr, code := run(t, plugin, "--bind", agency, again)
	require.Zero(t, code, stderr)
	first, err := os.ReadFile(plugin)
	require.NoError(t, err)
	second, err := os.ReadFile(again)
	require.NoError(t, err)
	assert.Equal(t, len(first), len(second), "the text before was not left out")
}

// It serves what it was started as, not what was put under its name since.
func TestRunningFileIsRead(t *testing.T) {
	plugin := filepath.Join(t.TempDir(), "lower-brack")
	_, stderr, code := run(t, tablefile, "--bind", agency, plugin)
	require.Zero(t, code, stderr)
	f, err := os.Open(plugin)
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, os.Remove(plugin))
	cmd := exec.CommandContext(t.Context(), "/proc/self/fd/3", "--describe")
	cmd.Env, cmd.ExtraFiles = []string{}, []*os.File{f}
	out, err := cmd.Output()
	require.NoError(t, err)
	assert.Contains(t, string(out), `"rule_set_id": "lower-brack"`)
}

func TestDamageIsFound(t *testing.T) {
	plugin := filepath.Join(t.TempDir(), "lower-brack")
	_, stderr, code := run(t, tablefile, "--bind", agency, plugin)
	require.Zero(t, code, stderr)
	whole, err := os.ReadFile(plugin)
	require.NoError(t, err)
	for name, damage := range map[string]func([]byte) []byte{
		"a letter of the text": func(b []byte) []byte { b[len(b)-100] ^= 1; return b },
		"the sum":              func(b []byte) []byte { b[len(b)-1] ^= 1; return b },
		"the length":           func(b []byte) []byte { b[len(b)-40] = 0x7f; return b },
	} {
		t.Run(name, func(t *testing.T) {
			damaged := filepath.Join(t.TempDir(), "damaged")
			require.NoError(t, os.WriteFile(damaged, damage(append([]byte{}, whole...)), 0o755))
			stdout, stderr, code := run(t, damaged, "--describe")
			assert.Equal(t, 1, code)
			assert.Empty(t, stdout)
			assert.Contains(t, stderr, "damaged")
		})
	}
}

func TestCommandLine(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out")
	for _, c := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"nothing bound", nil, 1, "--bind FILE OUT"},
		{"nothing bound, described", []string{"--describe"}, 1, "holds no table"},
		{"nothing bound, printed", []string{"--print"}, 1, "holds no table"},
		{"unknown argument", []string{"--serve"}, 2, "usage:"},
		{"no file to check", []string{"--check"}, 2, "usage:"},
		{"no such file", []string{"--check", "testdata/none.yaml"}, 1, "testdata/none.yaml"},
		{"no place to write", []string{"--bind", agency, filepath.Join(t.TempDir(), "none", "out")}, 1, "no such file"},
		{"a faulty text is not bound", []string{"--bind", "testdata/faulty.yaml", out}, 1, "testdata/faulty.yaml:"},
		{"no worked cases", []string{"--bind", "testdata/no-cases.yaml", out}, 1, "testdata/no-cases.yaml is not bound"},
		{"worked cases that miss a limit", []string{"--bind", "testdata/uncovered.yaml", out}, 1, "testdata/uncovered.yaml is not bound"},
		{"a computed row is not bound", []string{"--bind", "testdata/computed.yaml", out}, 1, "rows[0]: a table file cannot compute"},
	} {
		t.Run(c.name, func(t *testing.T) {
			stdout, stderr, code := run(t, tablefile, c.args...)
			assert.Equal(t, c.code, code)
			assert.Contains(t, stderr, c.says)
			assert.Empty(t, stdout)
			assert.NoFileExists(t, out)
		})
	}
}

func TestSchemaIsPrinted(t *testing.T) {
	schema, _, code := run(t, tablefile, "--schema")
	assert.Zero(t, code)
	want, err := os.ReadFile("tabletext/schema.json")
	require.NoError(t, err)
	assert.Equal(t, string(want), schema)
}

// The listing of everything that is wrong with a text with many faults, and of what
// worked cases that pass do not show.
func TestFaultsAreListed(t *testing.T) {
	for _, c := range []struct{ name, summary string }{
		{"faulty", ""},
		{"uncovered", "testdata/uncovered.yaml: uncovered 1, 5 rows, 3 worked cases pass"},
		{"other-decision", ""},
		{"no-cases", "testdata/no-cases.yaml: no-cases 1, 1 rows, 0 worked cases pass"},
	} {
		t.Run(c.name, func(t *testing.T) {
			stdout, stderr, code := run(t, tablefile, "--check", "testdata/"+c.name+".yaml")
			assert.Equal(t, 1, code)
			assert.Equal(t, c.summary, strings.Split(stdout, ", digest ")[0])
			golden := "testdata/" + c.name + ".golden"
			if *update {
				require.NoError(t, os.WriteFile(golden, []byte(stderr), 0o644))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err)
			assert.Equal(t, string(want), stderr)
		})
	}
}
