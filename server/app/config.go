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
	Rules            string        `required:"" placeholder:"DIR" help:"Folder of rule plugins; each file in it is one."`
	Formulations     []string      `placeholder:"FILE" sep:"none" help:"Catalogue file with species or formulations of your own; can be given more than once."`
	LogLevel         string        `default:"info" enum:"debug,info,warn,error" help:"Least level that is logged to standard error: ${enum}."`
	UntilStdinCloses bool          `help:"Stop when standard input is closed: for a server that serves one other program."`
	DrainTime        time.Duration `default:"10s" help:"How long calls may go on after a signal to stop, before they are cut off."`
	TLSCert          string        `name:"tls-cert" placeholder:"FILE" help:"Certificate chain in PEM."`
	TLSKey           string        `name:"tls-key" placeholder:"FILE" help:"Its private key in PEM."`
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
