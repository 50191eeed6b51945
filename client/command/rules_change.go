package command

import (
	"errors"
	"fmt"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/wording"
)

var errPrivate = errors.New("a private server ends with this command, and so would the change; name the running server with --server")

// change calls use with a client of a running server and its tables.
func (r *run) change(use func(*client.Client, *tables) error) error {
	if r.connection.Server == "" {
		return misuse{errPrivate}
	}
	return r.with(func(c *client.Client) error {
		t, err := tablesOf(r, c)
		if err != nil {
			return err
		}
		return use(c, t)
	})
}

// activate is the command rules activate.
type activate struct {
	Table        string `arg:"" help:"Table to activate: the start of its digest, or ID@VERSION; see rules releases."`
	ComparedWith string `required:"" placeholder:"TABLE|none" help:"Table with which rules compare compared it: the one that is active now, or none."`
	DecidedBy    string `required:"" placeholder:"WHO" help:"Who decided it; the log and the lock keep the name."`
}

// Run activates a table.
func (a *activate) Run(r *run) error {
	return r.change(func(c *client.Client, t *tables) error {
		table, err := t.find(a.Table)
		if err != nil {
			return err
		}
		if table == nil {
			return misuse{errors.New("none cannot be activated; rules retire takes a rule set out of force")}
		}
		with, err := t.digestOf(a.ComparedWith)
		if err != nil {
			return err
		}
		did, err := c.RuleSets.ActivateRuleSet(r.ctx, &rulesetv1.ActivateRuleSetRequest{Digest: table.GetDigest(), ComparedWithDigest: with, DecidedBy: a.DecidedBy})
		if err != nil {
			return err
		}
		undo := fmt.Sprintf("rules rollback %s --active %s --decided-by WHO", did.GetActive().GetRuleSetId(), wording.Digest(did.GetActive().GetDigest()))
		return r.changed(did.GetActive(), did.GetPrevious(), undo)
	})
}

// leave names an active table that is to be active no longer.
type leave struct {
	ID        string `arg:"" name:"id" help:"Id of the rule set."`
	Active    string `required:"" placeholder:"TABLE" help:"Table that is active now: the start of its digest, or ID@VERSION."`
	DecidedBy string `required:"" placeholder:"WHO" help:"Who decided it; the log and the lock keep the name."`
}

// digest gives the digest of the table that is said to be active.
func (l *leave) digest(t *tables) (string, error) {
	if l.Active == none {
		return "", misuse{errors.New("--active none: name the table that is active now")}
	}
	return t.digestOf(l.Active)
}

// rollback is the command of that name.
type rollback struct{ leave }

// Run brings back the release that was active before.
func (b *rollback) Run(r *run) error {
	return r.change(func(c *client.Client, t *tables) error {
		digest, err := b.digest(t)
		if err != nil {
			return err
		}
		did, err := c.RuleSets.RollBackRuleSet(r.ctx, &rulesetv1.RollBackRuleSetRequest{RuleSetId: b.ID, ActiveDigest: digest, DecidedBy: b.DecidedBy})
		if err != nil {
			return err
		}
		undo := fmt.Sprintf("rules compare active:%s %s, then activate", b.ID, wording.Digest(did.GetPrevious().GetDigest()))
		return r.changed(did.GetActive(), did.GetPrevious(), undo)
	})
}

// retire is the command of that name.
type retire struct{ leave }

// Run takes a rule set out of force.
func (e *retire) Run(r *run) error {
	return r.change(func(c *client.Client, t *tables) error {
		digest, err := e.digest(t)
		if err != nil {
			return err
		}
		did, err := c.RuleSets.RetireRuleSet(r.ctx, &rulesetv1.RetireRuleSetRequest{RuleSetId: e.ID, ActiveDigest: digest, DecidedBy: e.DecidedBy})
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(r.stdout, "retired:  %[1]s\nWhere no other rule set states the law of its place, everything there is undetermined from now on; where others do, what it alone forbade no longer is.\nUndo:     rootward rules compare none %[2]s, then activate, at %[3]s\n", wording.RuleSet(did.GetRetired()), wording.Digest(did.GetRetired().GetDigest()), r.connection.Server)
		return err
	})
}

// changed says what is active now, and how one goes back where there is a way.
func (r *run) changed(active, previous *commonv1.RuleSetRef, undo string) error {
	_, err := fmt.Fprintf(r.stdout, "active:   %s\n", wording.RuleSet(active))
	if err == nil && previous != nil {
		_, err = fmt.Fprintf(r.stdout, "instead of %s\nUndo:     rootward %s, at %s\n", wording.RuleSet(previous), undo, r.connection.Server)
	}
	return err
}
