package app

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/alecthomas/kong"
)

// config is what the flags say. A flag that is not given is taken from the
// environment: --log-level from ROOTWARD_LOG_LEVEL.
type config struct {
	Listen           string        `default:"127.0.0.1:50051" placeholder:"ADDRESS" help:"Where to listen: host:port, or unix:PATH. Port 0 takes a free one. An address that other machines can reach needs TLS."`
	Rules            string        `required:"" placeholder:"DIR" help:"Folder of the releases of rule sets, with trust.yaml, which says who may sign them, and rules.lock, which pins those that are active. Read anew at SIGHUP."`
	Unsigned         []string      `placeholder:"NAME" help:"Run this file of the folder though nobody has signed it, and let it decide while rules.lock says nothing of its rule set; \"all\" for every file. For authors, at their own desk."`
	Unconfined       []string      `placeholder:"NAME" help:"Run this file of the folder although the kernel lacks a layer of confinement; \"all\" for every file."`
	AllowRuleChanges bool          `help:"Let callers activate, roll back and retire rule sets."`
	Formulations     []string      `placeholder:"FILE" sep:"none" help:"Catalogue file with species or formulations of your own; can be given more than once."`
	Water            string        `placeholder:"DIR" help:"Folder of water layers, .geojson and .gpkg, from which distances to water are computed for rows with a position; see docs/water.md. Read anew at SIGHUP."`
	Data             string        `placeholder:"DIR" help:"Folder, made if it is missing, in which this server alone keeps batches and campaigns, in a SQLite file. Without it and --database none are kept."`
	Database         string        `placeholder:"URL" help:"PostgreSQL database in which batches and campaigns are kept, as postgres://USER@HOST/NAME; several servers may share it. Give a password by ROOTWARD_DATABASE, since others can see a command line."`
	RecordKey        string        `placeholder:"FILE" help:"Private key that signs the log of campaigns; it is made if it is missing. Default: record.key in the folder of --data. Servers that share a --database have the same; without it they keep no campaigns. Keep a copy elsewhere: without it the log is at its end."`
	Rehearse         string        `placeholder:"DATE" help:"Take DATE, as 2026-07-01, for today in campaigns: to rehearse one. The log is marked as a rehearsal for ever, and a log of real records is refused."`
	LogLevel         string        `default:"info" enum:"debug,info,warn,error" help:"Least level that is logged to standard error: ${enum}."`
	UntilStdinCloses bool          `help:"Stop when standard input is closed: for a server that serves one other program."`
	DrainTime        time.Duration `default:"10s" help:"How long calls may go on after a signal to stop, before they are cut off."`
	TLSCert          string        `name:"tls-cert" placeholder:"FILE" help:"Certificate chain in PEM."`
	TLSKey           string        `name:"tls-key" placeholder:"FILE" help:"Its private key in PEM."`

	rehearsed time.Time // what Rehearse says
}

func (c *config) rehearsal() bool { return c.Rehearse != "" }

// clock gives the time that campaigns go by: in a rehearsal it goes on from noon in UTC
// of the day.
func (c *config) clock() func() time.Time {
	if !c.rehearsal() {
		return time.Now
	}
	ahead := time.Until(c.rehearsed.Add(12 * time.Hour))
	return func() time.Time { return time.Now().Add(ahead) }
}

// parse reads the flags. It reports false if there is nothing left to do: help was
// asked for.
func parse(args, env []string, stdout, stderr io.Writer) (*config, bool, error) {
	var c config
	helped := false
	parser, err := kong.New(&c,
		kong.Name("rootwardd"),
		kong.Description("Serves treatment prescriptions and the rules behind them over gRPC. Prints \"ready ADDRESS\" once it serves."),
		kong.Writers(stdout, stderr),
		kong.Exit(func(int) { helped = true }),
		kong.Resolvers(fromEnvironment(env)),
	)
	if err != nil {
		return nil, false, err
	}
	_, err = parser.Parse(args)
	if helped {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, fmt.Errorf("%w; --help lists the flags", err)
	}
	if c.Data != "" && c.Database != "" {
		return nil, false, fmt.Errorf("--data and --database are two places for the same: give one of them")
	}
	if c.RecordKey != "" && c.Data == "" && c.Database == "" {
		return nil, false, fmt.Errorf("--record-key signs a log that nothing keeps: give --data or --database, too")
	}
	if c.Rehearse != "" {
		if c.rehearsed, err = time.Parse(time.DateOnly, c.Rehearse); err != nil {
			return nil, false, fmt.Errorf("--rehearse: %q is not a day as 2026-07-01", c.Rehearse)
		}
	}
	if (c.TLSCert == "") != (c.TLSKey == "") {
		return nil, false, fmt.Errorf("--tls-cert and --tls-key belong together: give both, or neither")
	}
	return &c, true, nil
}

// fromEnvironment gives flags that are not on the command line the values that the
// environment has for them.
func fromEnvironment(env []string) kong.Resolver {
	values := map[string]string{}
	for _, entry := range env {
		if name, value, ok := strings.Cut(entry, "="); ok {
			values[name] = value
		}
	}
	return kong.ResolverFunc(func(_ *kong.Context, _ *kong.Path, flag *kong.Flag) (any, error) {
		if value, ok := values["ROOTWARD_"+strings.ToUpper(strings.ReplaceAll(flag.Name, "-", "_"))]; ok {
			return value, nil
		}
		return nil, nil
	})
}
