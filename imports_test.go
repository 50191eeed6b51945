// Package rootward_test holds the packages of the module to who may import whom.
package rootward_test

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const module = "example.org/rootward/"

// pkg is what go list says of a package.
type pkg struct {
	ImportPath string
	Dir        string
	Standard   bool
	GoFiles    []string
	Imports    []string // direct
	Deps       []string // all
}

// listed gives the packages of the module, and all that they depend on, by path.
func listed(t *testing.T) map[string]*pkg {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "go", "list", "-deps", "-json=ImportPath,Dir,Standard,GoFiles,Imports,Deps", "./...")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	require.NoError(t, err)
	all := map[string]*pkg{}
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p pkg
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else {
			require.NoError(t, err)
		}
		all[p.ImportPath] = &p
	}
}

// in reports whether a package is one of the named ones; a name that ends in "/"
// is for all below it, too.
func in(path string, names ...string) bool {
	return slices.ContainsFunc(names, func(name string) bool {
		below, tree := strings.CutSuffix(name, "/")
		return path == module+below || tree && strings.HasPrefix(path, module+name)
	})
}

var (
	vocabulary = []string{"rules", "rules/civil", "rules/quantity", "rules/nearest"}
	campaign   = []string{"server/campaign", "server/campaign/after", "server/campaign/season", "server/campaign/weather", "server/campaign/record", "server/campaign/use", "server/campaign/sample"}
	pure       = slices.Concat([]string{"server/treatment"}, campaign, vocabulary)
)

func TestWhoMayImportWhom(t *testing.T) {
	all := listed(t)
	for _, ban := range []struct {
		says   string
		about  func(path string) bool
		direct bool // what they import themselves, or all that they depend on
		banned func(dep *pkg) bool
	}{
		{
			says:   "Package rules knows the standard library and its own parts alone.",
			about:  func(path string) bool { return in(path, vocabulary...) },
			banned: func(dep *pkg) bool { return !dep.Standard && !in(dep.ImportPath, vocabulary...) },
		},
		{
			says:   "The treatment core knows the standard library and the rules alone.",
			about:  func(path string) bool { return in(path, "server/treatment") },
			banned: func(dep *pkg) bool { return !dep.Standard && !in(dep.ImportPath, vocabulary...) },
		},
		{
			says:  "What authors compute with, and what their cases show, is told from the rules alone.",
			about: func(path string) bool { return in(path, "rules/phenology", "rules/rulecoverage") },
			banned: func(dep *pkg) bool {
				return !dep.Standard && !in(dep.ImportPath, append(vocabulary, "rules/phenology", "rules/rulecoverage")...)
			},
		},
		{
			says:   "The core and the rules open no file and no connection.",
			about:  func(path string) bool { return in(path, pure...) },
			direct: true,
			banned: func(dep *pkg) bool {
				return dep.ImportPath == "os" || strings.HasPrefix(dep.ImportPath, "os/") || dep.ImportPath == "net" || strings.HasPrefix(dep.ImportPath, "net/")
			},
		},
		{
			says:   "The client reaches the server over the wire alone.",
			about:  func(path string) bool { return in(path, "client/") },
			banned: func(dep *pkg) bool { return in(dep.ImportPath, "server/") },
		},
		{
			says:   "The server does not know its clients.",
			about:  func(path string) bool { return in(path, "server/") },
			banned: func(dep *pkg) bool { return in(dep.ImportPath, "client/") },
		},
		{
			says:   "A rule set is written without knowing the server or the client.",
			about:  func(path string) bool { return in(path, "rules/") || strings.HasPrefix(path, module+"plugins/") },
			banned: func(dep *pkg) bool { return in(dep.ImportPath, "server/", "client/") },
		},
		{
			says:   "A plugin holds nothing of its host: all of it is hashed at each start.",
			about:  func(path string) bool { return in(path, "rules/rulesdk") },
			banned: func(dep *pkg) bool { return strings.HasPrefix(dep.ImportPath, "github.com/hashicorp/") },
		},
		{
			says: "Messages stay at the edges: the API, the client, and the wire between host and plugins.",
			about: func(path string) bool {
				return !in(path, "server/api", "client/", "rules/rulewire", "rules/ruleplugin", "rules/ruleplugin/hosting", "rules/rulesdk", "rules/ruletest", "server/rulehost", "proto/",
					// Texts and programs that are about the messages themselves.
					"plugins/faulty/", "plugins/hostile/", "plugins/tablefile/", "plugins/python/")
			},
			direct: true,
			banned: func(dep *pkg) bool { return in(dep.ImportPath, "proto/") },
		},
		{
			says:  "A launcher that takes rights away has little to go wrong: it knows no rules and no messages.",
			about: func(path string) bool { return in(path, "server/confine", "server/confine/") },
			banned: func(dep *pkg) bool {
				return strings.HasPrefix(dep.ImportPath, module) && !in(dep.ImportPath, "server/confine", "server/confine/")
			},
		},
		{
			says:   "Releases are signed and pinned on machines without a server.",
			about:  func(path string) bool { return in(path, "rules/rulerelease") },
			banned: func(dep *pkg) bool { return in(dep.ImportPath, "server/", "client/") },
		},
		{
			says:   "The API is handed its law; it does not know where that comes from.",
			about:  func(path string) bool { return in(path, "server/api") },
			banned: func(dep *pkg) bool { return in(dep.ImportPath, "server/rulehost", "server/app") },
		},
		{
			says:   "The API opens no files: what it keeps is handed in.",
			about:  func(path string) bool { return in(path, "server/api") },
			direct: true,
			banned: func(dep *pkg) bool { return dep.ImportPath == "os" },
		},
		{
			says:  "Batches are bytes to their engine and their store: what decides them is handed in.",
			about: func(path string) bool { return in(path, "server/batch", "server/store") },
			banned: func(dep *pkg) bool {
				return in(dep.ImportPath, "proto/gen/", "rules/", "server/api", "server/treatment") && !in(dep.ImportPath, "rules/recordlog")
			},
		},
		{
			says:  "Water is measured without knowing what is decided by it.",
			about: func(path string) bool { return in(path, "server/water") },
			banned: func(dep *pkg) bool {
				return in(dep.ImportPath, "proto/gen/", "server/api", "server/treatment", "server/store")
			},
		},
		{
			says: "A database is spoken to in the store, by the engine's jobs, and where a layer of water is one.",
			about: func(path string) bool {
				return !in(path, "server/store/", "server/batch/", "server/water", "server/water/")
			},
			direct: true,
			banned: func(dep *pkg) bool {
				return dep.ImportPath == "database/sql" || strings.HasPrefix(dep.ImportPath, "modernc.org/sqlite") ||
					strings.HasPrefix(dep.ImportPath, "github.com/jackc/") || strings.HasPrefix(dep.ImportPath, "github.com/riverqueue/")
			},
		},
		{
			says:   "Assertions are for tests, and for kits of tests, whose names end in test.",
			about:  func(path string) bool { return !strings.HasSuffix(path, "test") },
			banned: func(dep *pkg) bool { return strings.HasPrefix(dep.ImportPath, "github.com/stretchr/testify") },
		},
	} {
		t.Run(ban.says, func(t *testing.T) {
			held := 0
			for path, p := range all {
				if !strings.HasPrefix(path, module) || !ban.about(path) {
					continue
				}
				held++
				deps := p.Deps
				if ban.direct {
					deps = p.Imports
				}
				for _, dep := range deps {
					assert.False(t, ban.banned(all[dep]), "%s imports %s", path, dep)
				}
			}
			assert.Positive(t, held, "the ban holds some package")
		})
	}
}

func TestTheCoreAndTheRulesReadNoClock(t *testing.T) {
	all := listed(t)
	for _, name := range pure {
		p := all[module+name]
		require.NotNil(t, p, name)
		for _, file := range p.GoFiles {
			text, err := os.ReadFile(filepath.Join(p.Dir, file))
			require.NoError(t, err)
			for _, clock := range []string{"time.Now(", "time.Since(", "time.Until("} {
				assert.NotContains(t, string(text), clock, "%s/%s: the caller gives the date", name, file)
			}
		}
	}
}
