package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
)

// Exit codes.
const (
	done          = 0
	failed        = 1
	misused       = 2
	held          = 3 // the command day: work must not begin
	withoutResult = 4 // a batch that was waited for has ended, and has no results
)

const about = `Prescribes how each stem of an inventory of root-suckering invasive trees is treated: method, dose, dates, and what the law asks for.

No answer depends on the clock: where the day matters, --date states it. Without --server, a private server is started for the one command.

The label is the law and stands above every answer, and so do local codes and the judgement of a licensed practitioner.`

// commands is the command line.
type commands struct {
	Connection
	Quiet bool `short:"q" help:"Do not show how far a long command is."`

	Prescribe prescribe      `cmd:"" help:"Prescribe an inventory file: a summary here, the rows in files."`
	Batch     batches        `cmd:"" help:"Have an inventory prescribed in the background, so that nothing is lost when a server stops."`
	Explain   explain        `cmd:"" help:"Show the whole reasoning for one row of an inventory."`
	Select    selection      `cmd:"" help:"Rank every treatment of one stem."`
	Dose      dose           `cmd:"" help:"Compute what one stem gets by a named method and formulation, lawful or not."`
	Rules     lawbook        `cmd:"" help:"Show, compare, sign and change the rule sets of a server."`
	Water     waterCommands  `cmd:"" help:"Show the water layers of a server, and compute distances from them."`
	Sites     siteCommands   `cmd:"" help:"Keep the sites of a campaign: the ground on which trees are fought over years."`
	Records   recordCommands `cmd:"" help:"Keep the records of use, export their log, and prove that nothing in it was changed."`
	Day       checkDay       `cmd:"" help:"Say whether planned work may begin: GO, CAUTION, UNKNOWN or NO GO, by the weather, the ground, the law and the label."`
	Surveys   surveyCommands `cmd:"" help:"Keep the surveys of a site: every stem, or plots as a sample."`
	Plans     planCommands   `cmd:"" help:"Plan a season of work, and show it as days or as a calendar."`
	Visits    visitCommands  `cmd:"" help:"Keep the visits to a site: what was looked for, found and felled."`
	Progress  siteProgress   `cmd:"" help:"Show how a site stands on a day: what is due, how the stand declines, where to look, and why it is not finished."`
	Catalogue catalogue      `cmd:"" help:"List the species and formulations that the server knows, with sources."`
	Calibrate calibrate      `cmd:"" help:"Turn a measurement in the field into a setting."`
	Columns   columns        `cmd:"" help:"List the columns that an inventory file can have."`
	Version   version        `cmd:"" help:"Show the version."`
}

// exit unwinds from within the parser when it has printed what was asked for.
type exit struct{ code int }

// misuse is an error of the command line that only shows when it is used.
type misuse struct{ error }

// fruitless is an error of a batch that has ended without results. To ask again is of no use.
type fruitless struct{ error }

// Run executes one command line, without the program's name, and gives the exit
// code. When it returns, nothing that it started is left.
func Run(ctx context.Context, args []string, stdout, stderr io.Writer) (code int) {
	defer func() {
		if r := recover(); r != nil {
			e, ok := r.(exit)
			if !ok {
				panic(r)
			}
			code = e.code
		}
	}()
	c := &commands{}
	parser, err := kong.New(c, kong.Name("rootward"), kong.Description(about), kong.Writers(stdout, stderr),
		kong.Exit(func(code int) { panic(exit{code}) }), kong.PostBuild(withVocabulary), kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: page.Width}))
	if err != nil {
		return complain(stderr, err)
	}
	if slices.Equal(args, []string{"--version"}) { // commands have flags of that name
		args = []string{"version"}
	}
	parsed, err := parser.Parse(args)
	if err != nil {
		return complain(stderr, misuse{err})
	}
	return complain(stderr, parsed.Run(&run{ctx: ctx, connection: &c.Connection, quiet: c.Quiet, stdout: stdout, stderr: stderr}))
}

// run is what every command works with.
type run struct {
	ctx            context.Context
	connection     *Connection
	quiet          bool
	stdout, stderr io.Writer
}

// complain prints an error, one problem a line, and gives the exit code.
func complain(stderr io.Writer, err error) int {
	if err == nil {
		return done
	}
	for _, problem := range client.Problems(err) {
		if errors.Is(err, syscall.EPIPE) && strings.HasSuffix(problem, syscall.EPIPE.Error()) {
			continue // who reads the output has seen enough, as head does
		}
		fmt.Fprintln(stderr, "rootward: "+page.Clean(withFlags(problem)))
	}
	if errors.As(err, &misuse{}) {
		fmt.Fprintln(stderr, "See rootward --help, or rootward COMMAND --help.")
		return misused
	}
	if errors.As(err, &fruitless{}) {
		return withoutResult
	}
	return failed
}
