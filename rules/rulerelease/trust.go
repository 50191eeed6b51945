package rulerelease

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.org/rootward/rules"
	"github.com/goccy/go-yaml/ast"
)

// TrustFile is the name of the trust file in the folder of rule sets.
const TrustFile = "trust.yaml"

// Trust says whose word counts for which places. The operator writes it.
type Trust struct {
	Agencies []Agency
}

// Agency is one publisher of law.
type Agency struct {
	Name   string
	Keys   []string      // verifiers of its keys
	Places []string      // a scope is one of these, or lies below one
	Layers []rules.Layer // in which it may publish
	// Threshold is how many of the keys must have signed a release.
	Threshold int
	// FirstParty says that the operator answers for the agency's builds: they run
	// even where the kernel lacks a layer of confinement.
	FirstParty bool
	// MayRead is files and folders that its builds may read beside themselves, such
	// as the interpreter of their language: absolute paths.
	MayRead []string
}

// ReadTrust reads the trust file of a folder. One that is missing trusts nobody.
func ReadTrust(dir string) (*Trust, error) {
	name := filepath.Join(dir, TrustFile)
	text, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return &Trust{}, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the trust file cannot be read: %w", err)
	}
	return ParseTrust(text, name)
}

// ParseTrust reads a trust file; name is for messages. Its error is a Faults with
// all that is wrong.
func ParseTrust(text []byte, name string) (*Trust, error) {
	r := &yamlReader{file: name}
	t := &Trust{}
	if body := r.document(text); body != nil {
		top := r.mapping(body, "", "agencies")
		keys := map[string]string{}
		for i, n := range r.list(top["agencies"], "agencies") {
			t.Agencies = append(t.Agencies, r.agency(n, fmt.Sprintf("agencies[%d]", i+1), keys))
		}
		r.distinct(top["agencies"], t)
	}
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	return t, nil
}

// agency reads one agency; keys holds whose each public key is so far.
func (r *yamlReader) agency(n ast.Node, where string, keys map[string]string) Agency {
	v := r.mapping(n, where, "name", "keys", "places", "layers", "threshold?", "first_party?", "may_read?")
	a := Agency{
		Name:       r.line(v["name"], where+".name"),
		Keys:       r.texts(v["keys"], where+".keys"),
		Places:     r.texts(v["places"], where+".places"),
		Threshold:  max(1, r.number(v["threshold"], where+".threshold", 1, 100)),
		FirstParty: r.truth(v["first_party"], where+".first_party"),
		MayRead:    r.texts(v["may_read"], where+".may_read"),
	}
	r.keys(v["keys"], where+".keys", a.Keys, keys)
	if v["places"] != nil && len(a.Places) == 0 {
		r.add(v["places"], where+".places", "is empty; list the places for which the agency may publish")
	}
	for i, p := range a.Places {
		r.require(place.MatchString(p), v["places"], i, where+".places", "%q is not a place such as \"us/velmora\"", clip(p))
	}
	for i, p := range a.MayRead {
		r.require(filepath.IsAbs(p) && filepath.Clean(p) == p && p != "/", v["may_read"], i, where+".may_read",
			"%q is not the plain absolute path of a file or folder, other than / itself", clip(p))
	}
	a.Layers = r.layers(v["layers"], where+".layers")
	if len(a.Keys) > 0 && a.Threshold > len(a.Keys) {
		r.add(v["threshold"], where+".threshold", "%d is more than the %d keys there are; nothing could be signed by so many", a.Threshold, len(a.Keys))
	}
	return a
}

// require notes a fault of entry i of a list.
func (r *yamlReader) require(ok bool, list ast.Node, i int, where, format string, args ...any) {
	if ok {
		return
	}
	at := list
	if s, isList := list.(*ast.SequenceNode); isList && i < len(s.Values) {
		at = s.Values[i]
	}
	r.add(at, fmt.Sprintf("%s[%d]", where, i+1), format, args...)
}

func (r *yamlReader) keys(n ast.Node, where string, list []string, owners map[string]string) {
	if n != nil && len(list) == 0 {
		r.add(n, where, "is empty; list the verifiers of the agency's keys")
	}
	for i, k := range list {
		public, err := publicKey(k)
		r.require(err == nil, n, i, where, "%q is not the verifier of a key, as rootward rules keygen prints it", clip(k))
		if err != nil {
			continue
		}
		first, again := owners[public]
		r.require(!again, n, i, where, "this key is listed already at %s; each key is one person's and counts once", first)
		owners[public] = fmt.Sprintf("%s[%d]", where, i+1)
	}
}

func (r *yamlReader) layers(n ast.Node, where string) []rules.Layer {
	var all []rules.Layer
	for i, word := range r.texts(n, where) {
		l, err := rules.ParseWord[rules.Layer](word)
		r.require(err == nil, n, i, where, "%q is not one of %s", clip(word), layerWords())
		all = append(all, l)
	}
	if n != nil && len(all) == 0 {
		r.add(n, where, "is empty; list those of %s in which the agency may publish", layerWords())
	}
	return all
}

// distinct sees that agencies have names of their own.
func (r *yamlReader) distinct(n ast.Node, t *Trust) {
	seen := map[string]bool{}
	for i, a := range t.Agencies {
		r.require(a.Name == "" || !seen[a.Name], n, i, "agencies", "name %q is used twice; put the keys of one agency together", a.Name)
		seen[a.Name] = true
	}
}

// Verifiers lists all keys of all agencies.
func (t *Trust) Verifiers() []string {
	var all []string
	for _, a := range t.Agencies {
		all = append(all, a.Keys...)
	}
	return all
}

// Endorsed is a release that an agency may publish and has signed.
type Endorsed struct {
	Release Release
	Agency  Agency
	Signers []string // names of all trusted keys that signed, sorted
}

// Check opens a signed release and sees that one agency may publish it, and that
// enough of its keys have signed.
func (t *Trust) Check(text []byte) (*Endorsed, error) {
	if len(t.Agencies) == 0 {
		return nil, fmt.Errorf("no agency is trusted; list those whose law counts in %s", TrustFile)
	}
	s, err := Open(text, t.Verifiers())
	if err != nil {
		return nil, err
	}
	e := &Endorsed{Release: s.Release}
	for _, k := range s.Keys {
		e.Signers = append(e.Signers, keyName(k))
	}
	slices.Sort(e.Signers)
	var wanting []string
	for _, a := range t.Agencies {
		signed := a.signed(s.Keys)
		if signed == 0 {
			continue
		}
		problem := a.wanting(&s.Release, signed)
		if problem == "" {
			e.Agency = a
			return e, nil
		}
		wanting = append(wanting, problem)
	}
	return nil, errors.New(strings.Join(wanting, "; "))
}

// signed counts the agency's keys among those that signed.
func (a *Agency) signed(keys []string) int {
	n := 0
	for _, k := range a.Keys {
		if slices.Contains(keys, k) {
			n++
		}
	}
	return n
}

// wanting says why an agency's signatures do not suffice; empty where they do.
func (a *Agency) wanting(r *Release, signed int) string {
	var list []string
	if signed < a.Threshold {
		list = append(list, fmt.Sprintf("%d of its keys signed and %d must; have it cosigned", signed, a.Threshold))
	}
	if !a.Governs(r.Scope) {
		list = append(list, fmt.Sprintf("it may publish for %s and below, not for %s", strings.Join(a.Places, ", "), r.Scope))
	}
	if !slices.Contains(a.Layers, r.Layer) {
		list = append(list, fmt.Sprintf("it may not publish in the layer %s", r.Layer))
	}
	if len(list) == 0 {
		return ""
	}
	return fmt.Sprintf("%s: %s (%s)", a.Name, strings.Join(list, ", and "), TrustFile)
}

// Governs reports whether a place is one of the agency's, or lies below one.
func (a *Agency) Governs(scope string) bool {
	return slices.ContainsFunc(rules.Levels(scope), func(level string) bool { return slices.Contains(a.Places, level) })
}
