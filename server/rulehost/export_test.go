package rulehost

import (
	"io"

	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules/rulerelease"
	goplugin "github.com/hashicorp/go-plugin"
	"github.com/rs/zerolog"
	"google.golang.org/grpc/encoding"
)

func NewLineLog(log zerolog.Logger) io.Writer { return &lineLog{log: log, stream: "stderr"} }

// StatusOf tells how the plugins fare that compute rows.
func StatusOf(h *Host) []RunningStatus { return h.running.status() }

// SecondContents gives the problems of signed builds that are refused because of one
// another, by file.
func SecondContents(lock *rulerelease.Lock, builds map[string]rulerelease.Release) map[string]string {
	var list []*found
	for file, r := range builds {
		list = append(list, &found{file: file, signers: []string{"lands"}, admitted: &admitted{release: r}})
	}
	(&admission{lock: lock}).refuseSecondContents(list)
	problems := map[string]string{}
	for _, f := range list {
		if f.admitted == nil {
			problems[f.file] = f.problem
		}
	}
	return problems
}

// ClientConfig is how go-plugin is asked to run a plugin.
func ClientConfig() *goplugin.ClientConfig {
	p := &plugin{config: Config{}.withDefaults()}
	own, err := certify()
	if err != nil {
		panic(err)
	}
	return p.clientConfig(&process{plugin: p, room: &room{dir: "/nowhere"}}, own)
}

// Dials reports whether the server connects to where a plugin says it listens.
func Dials(sockets, network, address string) bool {
	_, _, err := (&process{sockets: sockets}).PluginToHost(network, address)
	return err == nil
}

// PrintableLines cleans a text of several lines.
func PrintableLines(text string) string { return printableLines(text) }

// FewRows sees that a table has not too many rows.
func FewRows(t *ruletablev1.Table) error { return fewRows(t) }

// NewPaced makes who writes too much wait.
func NewPaced(w io.Writer) io.Writer { return newPaced(w) }

// NewAnswerCodec reads two answers, and tells whether the second was the first.
func NewAnswerCodec() (codec encoding.CodecV2, alike func() bool) {
	c := newAnswerCodec()
	return c, func() bool { return c.alike }
}
