package command

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulerelease"
)

// keygen is the command rules keygen.
type keygen struct {
	Name string `arg:"" help:"Name of the key, which stands on each signature, as velmora-lands-2026."`
	Out  string `required:"" placeholder:"DIR" help:"Folder for the private key. A key that is there is never replaced."`
}

// Run makes a key.
func (k *keygen) Run(r *run) error {
	if strings.ContainsAny(k.Name, `/\`) || strings.HasPrefix(k.Name, ".") {
		return misuse{fmt.Errorf("key name %q is no name of a file; name it like \"velmora-lands-2026\"", k.Name)}
	}
	private, verifier, err := rulerelease.NewKey(k.Name, nil)
	if err != nil {
		return misuse{err}
	}
	path := filepath.Join(k.Out, k.Name+".key")
	if err := writeSecret(path, private+"\n"); err != nil {
		return err
	}
	_, err = fmt.Fprintf(r.stdout, "private key:  %s\nKeep it secret: who has it signs in your name.\n\nVerifier, for the operator's %s, under keys of your agency:\n      - %s\n", path, rulerelease.TrustFile, verifier)
	return err
}

// writeSecret writes a new file that its owner alone can read.
func writeSecret(path, text string) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s is there already and is not replaced; name another key or folder", path)
	}
	if err != nil {
		return err
	}
	_, err = file.WriteString(text)
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	return nil
}

// signRelease is the command rules sign.
type signRelease struct {
	Binary string   `arg:"" help:"Build of a rule set. It is run once, with --describe."`
	Key    []string `required:"" sep:"none" placeholder:"FILE" help:"Private key that rules keygen wrote. Can be given more than once."`
}

// Run signs a build.
func (s *signRelease) Run(r *run) error {
	keys, err := readKeys(s.Key)
	if err != nil {
		return err
	}
	release, err := describe(r.ctx, s.Binary)
	if err != nil {
		return err
	}
	text, did, err := signed(s.Binary, release, keys)
	if err != nil {
		return err
	}
	path := s.Binary + rulerelease.Extension
	if err := writeWhole(path, s.Binary, text); err != nil {
		return err
	}
	_, err = fmt.Fprintf(r.stdout, "%s %s\nrule set   %s %s, %s law of %s\ntable      %s\nfile       sha256 %s\n",
		path, did, release.RuleSet, release.Version, release.Layer, release.Scope, release.Table, release.Binary)
	return err
}

func readKeys(files []string) ([]string, error) {
	var keys []string
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return nil, fmt.Errorf("private key: %w", err)
		}
		keys = append(keys, strings.TrimSpace(string(text)))
	}
	return keys, nil
}

// signed gives the text of the release. Signatures of the same release stay; those
// of another build are void.
func signed(binary string, release rulerelease.Release, keys []string) (text []byte, did string, err error) {
	before, err := rulerelease.ReadRelease(binary)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		text, err = rulerelease.Sign(release, keys...)
		return text, "written and signed", err
	case err != nil:
		return nil, "", err
	case !strings.HasPrefix(string(before), release.Text()+"\n"):
		text, err = rulerelease.Sign(release, keys...)
		return text, "written anew and signed: the one that was there was of another build", err
	}
	text = before
	for _, key := range keys {
		if text, err = rulerelease.Cosign(text, key); err != nil {
			return nil, "", err
		}
	}
	return text, "signed beside the signatures that it had", nil
}

// describeTime is how long a build may take to describe itself.
const describeTime = 30 * time.Second

// describe makes the release of a build from what it says of itself.
func describe(ctx context.Context, binary string) (rulerelease.Release, error) {
	path, err := filepath.Abs(binary)
	if err != nil {
		return rulerelease.Release{}, err
	}
	sum, err := rulerelease.Sum(path)
	if err != nil {
		return rulerelease.Release{}, err
	}
	ctx, cancel := context.WithTimeout(ctx, describeTime)
	defer cancel()
	command := exec.CommandContext(ctx, path, ruleplugin.DescribeFlag)
	command.WaitDelay = time.Second
	said, err := command.Output()
	if err != nil {
		return rulerelease.Release{}, undescribed(binary, err)
	}
	d, err := ruleplugin.ReadDescription(said)
	if err != nil {
		return rulerelease.Release{}, fmt.Errorf("what %s %s wrote is wrong: %w; build it with the kit of this version", binary, ruleplugin.DescribeFlag, err)
	}
	if err := borrowed(&d); err != nil {
		return rulerelease.Release{}, err
	}
	layer, err := rules.ParseWord[rules.Layer](d.Layer)
	return rulerelease.Release{
		RuleSet: d.RuleSetID, Version: d.Version, Layer: layer, Scope: d.Scope, Contract: d.ContractVersion, Binary: sum, Table: d.Digest,
	}, err
}

// borrowed refuses a rule set that still goes by the title or publisher of the template that it
// was copied from: who signs it would answer for law of an invented district.
func borrowed(d *ruleplugin.Description) error {
	const invented, own = "New District", "new-district"
	for _, said := range [][2]string{{"title", d.Title}, {"publisher", d.Publisher}} {
		if d.RuleSetID != own && strings.Contains(said[1], invented) {
			return fmt.Errorf("the %s of rule set %s is %q, which is that of the template's invented district; put your own title, publisher and citations into its table and build it anew", said[0], d.RuleSetID, said[1])
		}
	}
	return nil
}

// undescribed says why a build did not describe itself, in its own words if it has
// any.
func undescribed(binary string, err error) error {
	said := ""
	if exit := (*exec.ExitError)(nil); errors.As(err, &exit) {
		said = strings.TrimSpace(string(exit.Stderr))
	}
	if said != "" {
		said = "\n" + said
	}
	return fmt.Errorf("%s does not describe itself: %w; run it with %s and mend what it says%s", binary, err, ruleplugin.DescribeFlag, said)
}

// writeWhole writes a file that appears under its name when it is complete.
func writeWhole(path, input string, text []byte) error {
	file, err := createOutput(path, input)
	if err != nil {
		return err
	}
	defer file.drop()
	if _, err := file.Write(text); err != nil {
		return err
	}
	if err := file.finish(); err != nil {
		return err
	}
	return file.publish()
}

// verify is the command rules verify.
type verify struct {
	Binary string `arg:"" help:"Build of a rule set, with its release beside it."`
	Trust  string `required:"" placeholder:"FILE" help:"Trust file of the operator: whose word counts for which places."`
}

// Run verifies a release.
func (v *verify) Run(r *run) error {
	text, err := os.ReadFile(v.Trust)
	if err != nil {
		return err
	}
	trust, err := rulerelease.ParseTrust(text, v.Trust)
	if err != nil {
		return err
	}
	e, err := rulerelease.Verify(v.Binary, trust)
	if err != nil {
		return fmt.Errorf("%s: %w", v.Binary, err)
	}
	_, err = fmt.Fprintf(r.stdout, "%s is what %s released\nrule set   %s %s, %s law of %s\ntable      %s\nsigned by  %s\n", v.Binary,
		e.Agency.Name, e.Release.RuleSet, e.Release.Version, e.Release.Layer, e.Release.Scope, e.Release.Table, strings.Join(e.Signers, ", "))
	return err
}

// pin is the command rules pin.
type pin struct {
	Dir       string   `arg:"" help:"Folder of releases, with trust.yaml."`
	File      []string `sep:"none" placeholder:"NAME" help:"Build to pin, by its name in the folder. Can be given more than once. Default: all that have a release."`
	DecidedBy string   `required:"" placeholder:"WHO" help:"Who decided it; the lock keeps the name."`
}

// Run pins releases. It asks the clock, for when it was decided.
func (n *pin) Run(r *run) error {
	trust, err := rulerelease.ReadTrust(n.Dir)
	if err != nil {
		return err
	}
	lock, err := rulerelease.Pin(n.Dir, n.File, trust, time.Now(), n.DecidedBy)
	if err != nil {
		return err
	}
	fmt.Fprintf(r.stdout, "%s pins\n", filepath.Join(n.Dir, rulerelease.LockFile))
	for _, s := range lock.Sets {
		if s.Active == nil {
			continue
		}
		if _, err := fmt.Fprintf(r.stdout, "  %s %s, %s, table %.12s\n", s.RuleSet, s.Active.Release.Version, s.Active.File, s.Active.Release.Table); err != nil {
			return err
		}
	}
	return nil
}
