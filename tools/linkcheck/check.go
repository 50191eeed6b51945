package main

import (
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
)

// checkTree counts the relative links in the Markdown files under root and
// describes each broken one as "file:line: what is wrong".
func checkTree(root string) (links int, broken []string, err error) {
	paths, err := markdownFiles(root)
	if err != nil {
		return 0, nil, err
	}
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			return 0, nil, err
		}
		for _, l := range relativeLinks(string(text)) {
			links++
			if fault := checkLink(root, path, l.target); fault != "" {
				broken = append(broken, fmt.Sprintf("%s:%d: %s", path, l.line, fault))
			}
		}
	}
	return links, broken, nil
}

func markdownFiles(root string) (paths []string, err error) {
	err = filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir() && path != root && strings.HasPrefix(entry.Name(), "."):
			return fs.SkipDir
		case !entry.IsDir() && filepath.Ext(path) == ".md":
			paths = append(paths, path)
		}
		return nil
	})
	return paths, err
}

// checkLink says what is wrong with a link in the file at path, or "".
func checkLink(root, path, target string) string {
	name, fragment, _ := strings.Cut(target, "#")
	name, err := url.PathUnescape(name)
	if err != nil {
		return fmt.Sprintf("link %q: %v", target, err)
	}
	switch {
	case strings.HasPrefix(name, "/"):
		path = filepath.Join(root, name)
	case name != "":
		path = filepath.Join(filepath.Dir(path), name)
	}
	if _, err := os.Stat(path); err != nil {
		return fmt.Sprintf("link %q: there is no such file", target)
	}
	if fragment == "" || filepath.Ext(path) != ".md" {
		return ""
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return fmt.Sprintf("link %q: %v", target, err)
	}
	if !anchors(string(text))[fragment] {
		return fmt.Sprintf("link %q: the file has no heading with that anchor", target)
	}
	return ""
}
