package command

import (
	"fmt"
	"strings"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// releases is the command rules releases.
type releases struct {
	ID string `arg:"" optional:"" name:"id" help:"Only releases of this rule set, and those of which it is not known whose they are."`
}

// Run lists the releases of the server's folder.
func (l *releases) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.RuleSets.ListReleases(r.ctx, &rulesetv1.ListReleasesRequest{RuleSetId: l.ID})
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		for _, one := range answer.GetReleases() {
			release(p, one)
		}
		if len(answer.GetReleases()) == 0 {
			p.Text("", "There is no release for that in the folder.")
		}
		return p.Err()
	})
}

func release(p *page.Page, r *rulesetv1.Release) {
	ref := r.GetRef()
	switch state := stateOf(r); {
	case ref == nil:
		p.Text("", fmt.Sprintf("%s: %s", r.GetFile(), state))
	default:
		p.Text("", fmt.Sprintf("%s %s: %s", ref.GetRuleSetId(), ref.GetVersion(), state))
		m := r.GetManifest()
		p.Text("    ", fmt.Sprintf("%s, by %s; governs %s; %s", m.GetTitle(), m.GetPublisher(), m.GetScope(), validity(wording.Date(m.GetValidFrom()), wording.Date(m.GetValidTo()))))
		p.Text("    ", "table   "+ref.GetDigest())
	}
	if r.GetBinaryDigest() != "" {
		p.Text("    ", "file    "+r.GetFile()+", sha256 "+r.GetBinaryDigest())
	}
	signed := "signed by nobody who is trusted for it"
	if len(r.GetSigners()) > 0 {
		signed = "signed by " + strings.Join(r.GetSigners(), ", ")
	}
	p.Text("    ", signed)
	if r.GetProblem() != "" {
		p.Text("    ! ", r.GetProblem())
	}
}

func stateOf(r *rulesetv1.Release) string {
	state := strings.ToUpper(strings.TrimPrefix(r.GetState().String(), "RELEASE_STATE_"))
	if r.GetPrevious() {
		state += ", rules rollback brings it back"
	}
	return state
}

// hostStatus is the command rules status.
type hostStatus struct{}

// Run shows how rule plugins are confined and how they fare.
func (*hostStatus) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.RuleSets.GetHostStatus(r.ctx, &rulesetv1.GetHostStatusRequest{})
		if err != nil {
			return err
		}
		p := page.On(r.stdout)
		p.Line("CONFINEMENT OF RULE PLUGINS")
		for _, l := range answer.GetLayers() {
			state := "NOT in force"
			if l.GetInForce() {
				state = "in force"
			}
			p.Text("  - ", strings.TrimSuffix(fmt.Sprintf("%s: %s; %s", l.GetName(), state, l.GetDetail()), "; "))
		}
		p.Heading("Plugins with computed rows, and plugins that failed")
		for _, one := range answer.GetPlugins() {
			plugin(p, one)
		}
		if len(answer.GetPlugins()) == 0 {
			p.Line("  none has computed rows to answer for, and none has failed")
		}
		return p.Err()
	})
}

func plugin(p *page.Page, s *rulesetv1.PluginStatus) {
	name := s.GetFile()
	if s.GetRuleSetId() != "" {
		name += " (" + s.GetRuleSetId() + ")"
	}
	state := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(s.GetState().String(), "PLUGIN_STATE_"), "_", " "))
	p.Text("  - ", fmt.Sprintf("%s: %s; started %d times since it was admitted, failed %d times in a row", name, state, s.GetStarts(), s.GetFailures()))
	if s.GetRetryAt() != nil {
		p.Text("      ", "started again at "+s.GetRetryAt().AsTime().Format("2006-01-02 15:04:05 MST"))
	}
	if s.GetProblem() != "" {
		p.Text("      ", s.GetProblem())
	}
	for _, line := range s.GetLastLines() {
		p.Line("      | %s", line)
	}
}
