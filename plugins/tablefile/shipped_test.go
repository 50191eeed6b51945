package main_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"

	"example.org/rootward/plugins/tablefile/tabletext"
	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/ruleplugin/hosting"
	"example.org/rootward/rules/rulewire"
	goplugin "github.com/hashicorp/go-plugin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Everything that the rule sets written in Go say can be said as text: written and
// read back, each has its digest.
func TestEveryGoRuleSetCanBeText(t *testing.T) {
	sets := goRuleSets(t)
	for _, shipped := range []string{"federal", "velmora", "ossel-creek", "velmora-2027"} {
		assert.Contains(t, sets, shipped)
	}
	built := t.TempDir()
	args := []string{"build", "-o", built + "/"}
	for _, dir := range sets {
		args = append(args, dir)
	}
	out, err := exec.CommandContext(t.Context(), "go", args...).CombinedOutput()
	require.NoError(t, err, "%s", out)
	for name := range sets {
		t.Run(name, func(t *testing.T) {
			table := compiled(t, filepath.Join(built, name))
			text, err := tabletext.Write(table)
			require.NoError(t, err)
			back, err := tabletext.Read(name+".yaml", text)
			require.NoError(t, err)
			decoded, err := rulewire.DecodeTable(table)
			require.NoError(t, err)
			set, err := rules.NewSet(decoded)
			require.NoError(t, err)
			assert.Equal(t, set.Ref, back.Ref)
		})
	}
}

var servesTable = regexp.MustCompile(`rulesdk\.Main(With)?\(`)

// goRuleSets finds the folders of rule sets, by name. Those that misbehave for tests
// are none.
func goRuleSets(t *testing.T) map[string]string {
	t.Helper()
	files, err := filepath.Glob("../*/main.go")
	require.NoError(t, err)
	editions, err := filepath.Glob("../editions/*/main.go")
	require.NoError(t, err)
	sets := map[string]string{}
	for _, file := range append(files, editions...) {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		name := filepath.Base(filepath.Dir(file))
		if servesTable.Match(text) && name != "tablefile" && name != "faulty" && name != "hostile" {
			sets[name] = "./" + filepath.Dir(file)
		}
	}
	return sets
}

// compiled asks a plugin for its table.
func compiled(t *testing.T, program string) *pb.Table {
	t.Helper()
	client := goplugin.NewClient(&goplugin.ClientConfig{
		HandshakeConfig:  hosting.Handshake,
		Plugins:          hosting.Plugins(),
		Cmd:              exec.Command(program), // ended by Kill, after the test's context
		AllowedProtocols: []goplugin.Protocol{goplugin.ProtocolGRPC},
		AutoMTLS:         true,
		SkipHostEnv:      true,
		Logger:           hosting.Silent(),
	})
	t.Cleanup(client.Kill)
	connection, err := client.Client()
	require.NoError(t, err)
	served, err := connection.Dispense(ruleplugin.Name)
	require.NoError(t, err)
	res, err := served.(pluginv1.RulePluginServiceClient).Compile(t.Context(), &pluginv1.CompileRequest{ContractVersion: ruleplugin.ContractVersion})
	require.NoError(t, err)
	return res.GetTable()
}
