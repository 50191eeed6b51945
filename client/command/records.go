package command

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/recordlog"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
)

// recordCommands holds the commands below records.
type recordCommands struct {
	Add     addRecord     `cmd:"" help:"Keep a record of a use: what was applied, by whom, in which weather. It is checked against the rules in force there on that day."`
	Correct correctRecord `cmd:"" help:"Correct a record: the correction takes its place, and what was kept before stays in the log."`
	Show    showRecord    `cmd:"" help:"Show a record, with what the rules ask of it and what is missing."`
	List    listRecords   `cmd:"" help:"List the records of a site."`
	Export  exportRecords `cmd:"" help:"Write the whole log of a server, with the rule tables that its records name, into a folder that can be checked without a server."`
	Verify  verifyRecords `cmd:"" help:"Prove from such a folder that nothing in the log was changed or removed, and judge each record again by its rule tables. Needs no server."`
	Key     recordKey     `cmd:"" help:"Show the public key of a server's log: keep it elsewhere, to check archives by it."`
}

type recordKey struct{}

// Run shows the key.
func (*recordKey) Run(r *run) error {
	return r.with(func(c *client.Client) error {
		answer, err := c.Campaign.GetLogKey(r.ctx, &campaignv1.GetLogKeyRequest{})
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(r.stdout, answer.GetKey().GetVerifier())
		return err
	})
}

type exportRecords struct {
	Dir string `arg:"" help:"Folder to write, which must be new or empty."`
}

// Run writes an archive. The checkpoint is written last: without it the folder is none.
func (e *exportRecords) Run(r *run) error {
	if err := emptyFolder(e.Dir); err != nil {
		return err
	}
	return r.with(func(c *client.Client) error {
		stream, err := c.Campaign.ExportLog(r.ctx, &campaignv1.ExportLogRequest{})
		if err != nil {
			return err
		}
		a := archive{dir: e.Dir}
		if err := a.write(stream.Recv); err != nil {
			return err
		}
		_, err = fmt.Fprintf(r.stdout, "%s: %d entries, %d rule tables\nKeep a copy of %s elsewhere: with it, rootward records verify --since proves later that nothing was removed.\n",
			e.Dir, a.entries, a.tables, filepath.Join(e.Dir, recordlog.CheckpointFile))
		return err
	})
}

func emptyFolder(dir string) error {
	if err := os.MkdirAll(filepath.Join(dir, recordlog.TablesFolder), 0o700); err != nil {
		return err
	}
	for _, name := range []string{recordlog.CheckpointFile, recordlog.EntriesFile} {
		if _, err := os.Lstat(filepath.Join(dir, name)); !errors.Is(err, fs.ErrNotExist) {
			return errors.Join(err, fmt.Errorf("%s is there already and is not replaced; name a new folder", filepath.Join(dir, name)))
		}
	}
	tables, err := os.ReadDir(filepath.Join(dir, recordlog.TablesFolder))
	if err == nil && len(tables) > 0 {
		err = fmt.Errorf("%s is not empty; name a new folder", filepath.Join(dir, recordlog.TablesFolder))
	}
	return err
}

// archive is a folder that is being written.
type archive struct {
	dir     string
	entries int64
	tables  int
}

func (a *archive) write(next func() (*campaignv1.ExportLogResponse, error)) error {
	lines, err := os.OpenFile(filepath.Join(a.dir, recordlog.EntriesFile), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	checkpoint, err := a.parts(lines, next)
	if err = errors.Join(err, lines.Close()); err != nil {
		return err
	}
	if checkpoint == nil {
		return errors.New("the server gave no checkpoint: the archive is not whole")
	}
	return os.WriteFile(filepath.Join(a.dir, recordlog.CheckpointFile), checkpoint, 0o600)
}

func (a *archive) parts(lines io.Writer, next func() (*campaignv1.ExportLogResponse, error)) (checkpoint []byte, err error) {
	for {
		part, err := next()
		if errors.Is(err, io.EOF) {
			return checkpoint, nil
		}
		if err != nil {
			return nil, err
		}
		switch p := part.GetPart().(type) {
		case *campaignv1.ExportLogResponse_Checkpoint:
			checkpoint = p.Checkpoint
		case *campaignv1.ExportLogResponse_Entry:
			a.entries++
			_, err = lines.Write(append(p.Entry, '\n'))
		case *campaignv1.ExportLogResponse_Table:
			err = a.table(p.Table)
		}
		if err != nil {
			return nil, err
		}
	}
}

func (a *archive) table(data []byte) error {
	set, err := readRuleTable(data)
	if err != nil {
		return err
	}
	a.tables++
	return os.WriteFile(filepath.Join(a.dir, recordlog.TablesFolder, set.Ref.Digest), data, 0o600)
}

// readRuleTable reads a rule table as archives have it.
func readRuleTable(data []byte) (*rules.Set, error) {
	p := &ruletablev1.Table{}
	if err := proto.Unmarshal(data, p); err != nil {
		return nil, fmt.Errorf("it is not a rule table: %w", err)
	}
	table, err := rulewire.DecodeTable(p)
	if err != nil {
		return nil, fmt.Errorf("it is not a rule table of this version: %w", err)
	}
	return rules.NewSet(table)
}

type verifyRecords struct {
	Dir   string   `arg:"" help:"Folder that rootward records export wrote."`
	Key   string   `required:"" placeholder:"KEY" help:"Public key of the log, or a file with it: as rootward records key showed it once, kept elsewhere. A key that comes with the archive proves nothing."`
	Since []string `sep:"none" placeholder:"FILE" help:"Checkpoint of an earlier archive: proves that everything from before it is there unchanged. Can be given more than once."`
}

// Run checks an archive.
func (v *verifyRecords) Run(r *run) error {
	verifier, err := recordlog.ParseVerifier(v.keyText())
	if err != nil {
		return misuse{fmt.Errorf("--key: %w", err)}
	}
	judge := &rejudge{sets: map[string]*rules.Set{}}
	check := recordlog.Check{Verifier: verifier, Table: judge.table, Entry: judge.entry}
	for _, name := range v.Since {
		signed, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		check.Earlier = append(check.Earlier, recordlog.Earlier{Name: name, Signed: signed})
	}
	report, err := recordlog.Verify(os.DirFS(v.Dir), check)
	if err != nil {
		return fmt.Errorf("%s: %w", v.Dir, err)
	}
	if len(report.Faults) > 0 {
		var all []error
		for _, f := range report.Faults {
			all = append(all, f)
		}
		return errors.Join(all...)
	}
	p := page.On(r.stdout)
	p.Line("%s is whole and unchanged", report.Checkpoint.Origin)
	if recordlog.IsRehearsal(report.Checkpoint.Origin) {
		p.Line("A REHEARSAL: its clock was made up, and nothing in it is a record of anything.")
	}
	p.Line("entries       %d", report.Entries)
	p.Line("root          %s", report.Checkpoint.Root)
	p.Line("rule tables   %d", report.Tables)
	p.Line("records       %d, of which %d judged again by their tables, with the same result", judge.records, judge.judged)
	p.Line("checkpoints   %d earlier ones, all kept to", len(v.Since))
	return p.Err()
}

// keyText is the key, or what is in the file of that name.
func (v *verifyRecords) keyText() string {
	if text, err := os.ReadFile(v.Key); err == nil {
		return string(text)
	}
	return v.Key
}
