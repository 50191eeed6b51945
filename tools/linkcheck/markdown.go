package main

import (
	"fmt"
	"iter"
	"regexp"
	"strings"
	"unicode"
)

var (
	inlineLink    = regexp.MustCompile(`\]\(\s*<?([^)\s>]+)`)
	referenceLink = regexp.MustCompile(`^\s{0,3}\[[^\]^]+\]:\s+<?([^\s>]+)`)
	inlineCode    = regexp.MustCompile("`[^`]*`")
	otherHost     = regexp.MustCompile(`^([A-Za-z][A-Za-z0-9+.-]*:|//)`)
	heading       = regexp.MustCompile(`^\s{0,3}#{1,6}\s+(.+?)\s*#*\s*$`)
	linkedText    = regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`)
	namedAnchor   = regexp.MustCompile(`<a\s+(?:id|name)="([^"]+)"`)
)

type link struct {
	line   int
	target string
}

// relativeLinks returns the links and images of a document that stay in its
// own tree. What stands in code is no link.
func relativeLinks(text string) (links []link) {
	for number, line := range prose(text) {
		line = inlineCode.ReplaceAllString(line, "")
		found := append(inlineLink.FindAllStringSubmatch(line, -1),
			referenceLink.FindAllStringSubmatch(line, -1)...)
		for _, match := range found {
			if target := match[1]; !otherHost.MatchString(target) {
				links = append(links, link{number, target})
			}
		}
	}
	return links
}

// anchors returns the fragments that a link to the document may name: its
// headings in the form that forges give them, and its own <a id> elements.
func anchors(text string) map[string]bool {
	found := map[string]bool{}
	times := map[string]int{}
	for _, line := range prose(text) {
		for _, match := range namedAnchor.FindAllStringSubmatch(line, -1) {
			found[match[1]] = true
		}
		match := heading.FindStringSubmatch(line)
		if match == nil {
			continue
		}
		anchor := headingAnchor(match[1])
		if n := times[anchor]; n > 0 {
			found[fmt.Sprintf("%s-%d", anchor, n)] = true
		} else {
			found[anchor] = true
		}
		times[anchor]++
	}
	return found
}

func headingAnchor(title string) string {
	title = linkedText.ReplaceAllString(title, "$1")
	return strings.Map(func(r rune) rune {
		switch {
		case r == ' ':
			return '-'
		case r == '-', r == '_', unicode.IsLetter(r), unicode.IsNumber(r):
			return unicode.ToLower(r)
		}
		return -1
	}, title)
}

// prose yields the lines outside fenced code, with their numbers from 1.
func prose(text string) iter.Seq2[int, string] {
	return func(yield func(int, string) bool) {
		fence := ""
		for i, line := range strings.Split(text, "\n") {
			mark := fenceMark(line)
			switch {
			case fence != "":
				if strings.HasPrefix(mark, fence) {
					fence = ""
				}
			case mark != "":
				fence = mark
			case !yield(i+1, line):
				return
			}
		}
	}
}

// fenceMark returns the run of three or more backquotes or tildes that opens
// or closes fenced code, or "".
func fenceMark(line string) string {
	line = strings.TrimLeft(line, " ")
	for _, c := range []string{"`", "~"} {
		if n := len(line) - len(strings.TrimLeft(line, c)); n >= 3 {
			return line[:n]
		}
	}
	return ""
}
