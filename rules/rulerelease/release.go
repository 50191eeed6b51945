package rulerelease

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"example.org/rootward/rules"
)

// Extension is what the name of a build is followed by in the name of its
// release: "velmora-2027" has "velmora-2027.release".
const Extension = ".release"

// Release is what an agency says of one build of a rule set.
type Release struct {
	RuleSet  string // the id of the set
	Version  string
	Layer    rules.Layer
	Scope    string // the place it governs: "us/velmora"
	Contract int    // the version of the plugin contract that the build speaks
	Binary   string // SHA-256 of the file, lower-case hexadecimal
	Table    string // digest of the table, as rules.NewSet gives it
}

// heading is the first line of a release; its number is that of the format.
const heading = "rootward rule release 1"

const digestPrefix = "sha256:"

// lines gives what the text of a release says, in the order in which it is
// written.
func (r *Release) lines() [][2]string {
	return [][2]string{
		{"rule-set", r.RuleSet},
		{"version", r.Version},
		{"layer", r.Layer.String()},
		{"scope", r.Scope},
		{"contract", strconv.Itoa(r.Contract)},
		{"binary", digestPrefix + r.Binary},
		{"table", digestPrefix + r.Table},
	}
}

// Text writes a release as it is signed.
func (r *Release) Text() string {
	var b strings.Builder
	b.WriteString(heading + "\n")
	for _, l := range r.lines() {
		b.WriteString(l[0] + " " + l[1] + "\n")
	}
	return b.String()
}

// maxLine bounds a line of a release, in bytes.
const maxLine = 1_000

// Parse reads what Text writes, and nothing else. Its error is a Faults with all
// that is wrong.
func Parse(text string) (Release, error) {
	p := &releaseReader{}
	all := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if all[0] != heading {
		p.add(1, "", "%q is not %q; it is no release, or one of another program version", clip(all[0]), heading)
		return Release{}, p.faults
	}
	values := p.read(all[1:])
	r := p.release(values)
	if len(p.faults) == 0 && r.Text() != text {
		p.add(1, "", "the lines stand in another order or are written otherwise than a release is; let its agency sign it anew")
	}
	if len(p.faults) > 0 {
		return Release{}, p.faults
	}
	return r, nil
}

type stated struct {
	line int
	text string
}

type releaseReader struct{ faults Faults }

func (p *releaseReader) add(line int, where, format string, args ...any) {
	p.faults = append(p.faults, Fault{Line: line, Where: where, Problem: fmt.Sprintf(format, args...)})
}

// read gives the values by name and notes lines that do not belong.
func (p *releaseReader) read(all []string) map[string]stated {
	var known []string
	for _, l := range (&Release{}).lines() {
		known = append(known, l[0])
	}
	values := map[string]stated{}
	for i, line := range all {
		name, value, _ := strings.Cut(line, " ")
		_, again := values[name]
		switch {
		case !slices.Contains(known, name):
			p.add(i+2, "", "%q is not known; a release has the lines %s", clip(name), strings.Join(known, ", "))
		case again:
			p.add(i+2, name, "is stated twice; state it once")
		case len(line) > maxLine:
			p.add(i+2, name, "has %d bytes; a line has at most %d", len(line), maxLine)
		}
		values[name] = stated{i + 2, value}
	}
	for _, name := range known {
		if _, ok := values[name]; !ok {
			p.add(len(all)+1, name, "is missing; a release states all of %s", strings.Join(known, ", "))
			values[name] = stated{}
		}
	}
	return values
}

func (p *releaseReader) release(values map[string]stated) Release {
	r := Release{
		RuleSet: values["rule-set"].text, Version: values["version"].text, Scope: values["scope"].text,
		Binary: strings.TrimPrefix(values["binary"].text, digestPrefix), Table: strings.TrimPrefix(values["table"].text, digestPrefix),
	}
	r.Layer, _ = rules.ParseWord[rules.Layer](values["layer"].text)
	r.Contract, _ = strconv.Atoi(values["contract"].text)
	for _, f := range r.faults() {
		if line := values[f.Where]; line.line > 0 {
			p.add(line.line, f.Where, "%s", f.Problem)
		}
	}
	return r
}

var (
	slug   = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)
	place  = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*(/[a-z][a-z0-9]*(-[a-z0-9]+)*)*$`)
	digest = regexp.MustCompile(`^[0-9a-f]{64}$`)
)

// faults lists what is wrong with a release, by the names of its lines.
func (r *Release) faults() Faults {
	var list Faults
	require := func(ok bool, where, format string, args ...any) {
		if !ok {
			list = append(list, Fault{Where: where, Problem: fmt.Sprintf(format, args...)})
		}
	}
	require(slug.MatchString(r.RuleSet), "rule-set", "%q is not a lower-case slug such as \"ossel-creek\"", clip(r.RuleSet))
	require(oneLine(r.Version), "version", "%q is not a version on one line, without spaces around it", clip(r.Version))
	require(rules.Known(r.Layer), "layer", "is not one of %s", layerWords())
	require(place.MatchString(r.Scope), "scope", "%q is not a place such as \"us/velmora\"", clip(r.Scope))
	require(r.Contract > 0 && r.Contract < 1_000, "contract", "is not a number from 1 to 999; state the version of the plugin contract")
	require(digest.MatchString(r.Binary), "binary", "%q is not sha256: and 64 lower-case hexadecimal digits", clip(r.Binary))
	require(digest.MatchString(r.Table), "table", "%q is not sha256: and 64 lower-case hexadecimal digits", clip(r.Table))
	return list
}

// oneLine reports whether a text can be a value: something to read, in one line.
func oneLine(s string) bool {
	return s != "" && len(s) <= maxLine/2 && s == strings.TrimSpace(s) && strings.IndexFunc(s, func(c rune) bool {
		return !unicode.IsPrint(c) || c == unicode.ReplacementChar
	}) < 0
}

func layerWords() string {
	var words []string
	for _, l := range rules.Words[rules.Layer]() {
		words = append(words, l.String())
	}
	return strings.Join(words, ", ")
}

// clip keeps a foreign text from filling a message.
func clip(s string) string {
	const limit = 80
	if len(s) <= limit {
		return s
	}
	return strings.ToValidUTF8(s[:limit], "") + "..."
}
