package api

import (
	"context"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// Law is the rule sets of a server at one moment. None of it changes: a request
// that holds one is decided by the same rows to its end.
type Law struct {
	Sets []*rules.Set // active, the widest layer first
	// Edition is equal for laws of which all that does not depend on sites is equal. Nil
	// is like no other.
	Edition   any
	NotLoaded []NotLoaded
	// Govern gives the law of a place on a day; what is missing are gaps in it.
	Govern func(place string, on civil.Date) *rules.Governing
	// Compute asks the plugins for the computed rows of a governing law at each of
	// the sites, and gives the law of each: one shared by sites that got equal
	// answers. Rows that could not be computed say UNDETERMINED there, with the
	// reason. It is not called for a law without computed rows.
	Compute func(ctx context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing
}

// NotLoaded is a rule set that could not be loaded.
type NotLoaded struct {
	Where   string // the plugin
	Problem string // why, and what to do
}

// Current gives the law that a server holds now. It is safe from any goroutine.
type Current func() Law

// RuleHost is what RuleSetService asks of the host of rule plugins. Its methods
// may be called from several goroutines. An error that has a method
// Refusal() string gives the reason in one word, which decides the status code.
type RuleHost interface {
	// Trial gives the law that would hold if the admitted tables of these digests
	// were active in the place of those of the same rule set.
	Trial(digests []string) (Law, error)
	// Releases looks into the folder anew and lists every release, by rule set, the
	// active one first.
	Releases(ctx context.Context) ([]Release, error)
	// Admitted gives the set of a digest, whether it is active or not.
	Admitted(digest string) (*rules.Set, error)
	// Compared remembers that the pair was compared. An empty old digest stands for
	// no table.
	Compared(old, new string)
	Activate(ctx context.Context, digest, comparedWith, decidedBy string) (Change, error)
	RollBack(ctx context.Context, ruleSetID, activeDigest, decidedBy string) (Change, error)
	Retire(ctx context.Context, ruleSetID, activeDigest, decidedBy string) (Change, error)
	Status() HostStatus
}

// Change is what a change of the active sets did.
type Change struct {
	Active   rules.Ref // zero where nothing took the place
	Previous rules.Ref // zero where there was nothing before
}

// ReleaseState is what may be done with a release; the numbers are those of
// rootward.ruleset.v1.ReleaseState.
type ReleaseState int32

// The states of a release.
const (
	ReleaseActive ReleaseState = iota + 1
	ReleaseEligible
	ReleaseRefused
)

// Release is one build of a rule set in the folder.
type Release struct {
	File         string
	State        ReleaseState
	Set          *rules.Set // nil where it was not compiled
	BinaryDigest string     // SHA-256 of the file, lower-case hexadecimal
	Signers      []string
	Problem      string // why it was refused, and what to do
	Previous     bool   // it was active before and can be rolled back to
}

// HostStatus is how plugins are confined and how they fare.
type HostStatus struct {
	Layers  []ConfinementLayer
	Plugins []PluginStatus
}

// ConfinementLayer is one of the layers that confine a plugin.
type ConfinementLayer struct {
	Name    string
	InForce bool
	Detail  string // its version, or why it is wanting
}

// PluginState is how a plugin fares; the numbers are those of
// rootward.ruleset.v1.PluginState.
type PluginState int32

// The states of a plugin.
const (
	PluginCompiled PluginState = iota + 1
	PluginRunning
	PluginBackingOff
	PluginQuarantined
)

// PluginStatus is how one plugin fares.
type PluginStatus struct {
	File      string
	RuleSetID string
	State     PluginState
	Starts    int
	Failures  int       // in a row
	RetryAt   time.Time // zero unless it backs off
	Problem   string
	LastLines []string // of its standard error
}
