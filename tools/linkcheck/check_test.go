package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestRunNamesEachBrokenLink(t *testing.T) {
	cases := map[string]struct {
		document string
		broken   string // what the report must contain, "" for none
	}{
		"file beside it":         {"[a](other.md)", ""},
		"file from the root":     {"[a](/docs/other.md)", ""},
		"folder":                 {"[a](../docs)", ""},
		"escaped space":          {"[a](two%20words.txt)", ""},
		"title after the target": {`[a](other.md "Other")`, ""},
		"image in a link":        {"[![a](two%20words.txt)](gone.md)", `link "gone.md": there is no such file`},
		"heading":                {"[a](other.md#a-heading-with-code)", ""},
		"second like heading":    {"[a](other.md#a-heading-with-code-1)", ""},
		"named anchor":           {"[a](other.md#here)", ""},
		"own heading":            {"# Top\n[a](#top)", ""},
		"other host":             {"[a](https://example.org/gone.md) [b](mailto:a@example.org)", ""},
		"in inline code":         {"`[a](gone.md)`", ""},
		"in fenced code":         {"```md\n[a](gone.md)\n```", ""},
		"after fenced code":      {"~~~\n```\n~~~\n[a](gone.md)", `README.md:4: link "gone.md"`},
		"no such file":           {"text\n[a](gone.md)", `README.md:2: link "gone.md": there is no such file`},
		"no such heading":        {"[a](other.md#gone)", `link "other.md#gone": the file has no heading`},
		"reference":              {"[a][1]\n\n[1]: gone.md", `README.md:3: link "gone.md"`},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			root := t.TempDir()
			write(t, filepath.Join(root, "docs", "README.md"), c.document)
			write(t, filepath.Join(root, "docs", "two words.txt"), "")
			write(t, filepath.Join(root, "docs", "other.md"),
				"# A heading, with `code`\n# A heading with code\n<a id=\"here\"></a>\n")
			write(t, filepath.Join(root, ".hidden", "README.md"), "[a](gone.md)")

			var stdout, stderr bytes.Buffer
			status := run([]string{root}, &stdout, &stderr)

			want := 0
			if c.broken != "" {
				want = 1
			}
			if status != want || !strings.Contains(stderr.String(), c.broken) {
				t.Errorf("status %d, report %q; want status %d, report with %q",
					status, stderr.String(), want, c.broken)
			}
		})
	}
}

func TestRunRefusesAFolderItCannotRead(t *testing.T) {
	var stdout, stderr bytes.Buffer
	status := run([]string{filepath.Join(t.TempDir(), "gone")}, &stdout, &stderr)
	if status != 2 || stderr.Len() == 0 {
		t.Errorf("status %d, report %q; want status 2 and a report", status, stderr.String())
	}
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
