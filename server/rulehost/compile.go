package rulehost

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"time"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/ruleplugin/hosting"
	"github.com/hashicorp/go-hclog"
	goplugin "github.com/hashicorp/go-plugin"
	"github.com/hashicorp/go-plugin/runner"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/encoding"
	codec "google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/mem"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
)

// compile starts the plugin and takes its table twice. That the plugin then ends, which
// takes as long as to check its table, is not waited for; ended says when it has.
func (p *plugin) compile(ctx context.Context) (*ruletablev1.Table, error) {
	client, run, err := p.launch()
	if err != nil {
		return nil, err
	}
	defer p.end(client, run)
	// go-plugin's Start takes no context.
	defer context.AfterFunc(ctx, run.kill)()
	served, err := p.connect(client)
	if err != nil {
		return nil, run.blame(err)
	}
	table, err := p.compileTwice(ctx, served)
	if err != nil {
		return nil, run.blame(err)
	}
	return table, nil
}

// end has the plugin stopped, and does not wait for it.
func (p *plugin) end(client *goplugin.Client, run *process) {
	p.ended.Add(1)
	p.config.ending.Go(func() {
		defer p.ended.Done()
		p.stop(client, run)
	})
}

// connect starts the process and gives its service.
func (p *plugin) connect(client *goplugin.Client) (pluginv1.RulePluginServiceClient, error) {
	if _, err := client.Start(); err != nil {
		return nil, fmt.Errorf("did not start: %s%s", shorten(err.Error(), 300), p.lastWords())
	}
	// That there is no error does not say that the process still lives; a call does.
	connection, err := client.Client()
	if err != nil {
		return nil, fmt.Errorf("cannot be connected to: %s", shorten(err.Error(), 300))
	}
	served, err := connection.Dispense(ruleplugin.Name)
	if err != nil {
		return nil, fmt.Errorf("does not serve a rule set: %s", shorten(err.Error(), 300))
	}
	return served.(pluginv1.RulePluginServiceClient), nil
}

// lastWords is what the plugin wrote to its standard error at the end, if anything.
func (p *plugin) lastWords() string {
	lines := p.tail.last()
	if len(lines) == 0 {
		return ""
	}
	return "; its last words were: " + shorten(lines[len(lines)-1], 300)
}

func (p *plugin) clientConfig(run *process, own *certified) *goplugin.ClientConfig {
	return &goplugin.ClientConfig{
		HandshakeConfig:  hosting.Handshake,
		Plugins:          hosting.Plugins(),
		AllowedProtocols: []goplugin.Protocol{goplugin.ProtocolGRPC},
		RunnerFunc: func(_ hclog.Logger, spec *exec.Cmd, sockets string) (runner.Runner, error) {
			return run, run.prepare(append(spec.Env, ruleplugin.ClientCertificate+"="+string(own.pem)), sockets)
		},
		TLSConfig:        own.tls,
		SkipHostEnv:      true,
		StartTimeout:     p.config.StartTimeout,
		Logger:           hosting.Silent(),
		Stderr:           newPaced(io.MultiWriter(&lineLog{log: p.log, stream: "stderr"}, &p.tail)),
		SyncStdout:       newPaced(&lineLog{log: p.log, stream: "stdout"}),
		SyncStderr:       newPaced(io.MultiWriter(&lineLog{log: p.log, stream: "stderr"}, &p.tail)),
		UnixSocketConfig: &goplugin.UnixSocketConfig{TempDir: run.room.dir},
		GRPCDialOptions: []grpc.DialOption{
			grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(p.config.MaxTable)),
			grpc.WithChainStreamInterceptor(withoutBroker),
		},
	}
}

// withoutBroker opens no stream to the plugin's broker. Of what arrives there
// go-plugin keeps an entry for each message, some for ever, so that a plugin could
// fill the server's memory.
func withoutBroker(ctx context.Context, desc *grpc.StreamDesc, c *grpc.ClientConn, method string, open grpc.Streamer, o ...grpc.CallOption) (grpc.ClientStream, error) {
	if strings.HasPrefix(method, "/plugin.GRPCBroker/") {
		return nil, status.Error(codes.Unimplemented, "the broker is not used")
	}
	return open(ctx, desc, c, method, o...)
}

// socketFolder is the temporary folder, or /tmp where that one's name is so long
// that the path of a socket below it would pass the 107 bytes that the kernel takes.
func socketFolder(temporary string) string {
	const longest = 30
	if len(temporary) > longest {
		return "/tmp"
	}
	return temporary
}

// compileTwice sees that the table is the same each time. A table that depends
// on the clock, on chance or on the order of a map cannot be pinned by digest.
func (p *plugin) compileTwice(ctx context.Context, c pluginv1.RulePluginServiceClient) (*ruletablev1.Table, error) {
	ctx, cancel := context.WithTimeout(ctx, p.config.CompileTimeout)
	defer cancel()
	req := &pluginv1.CompileRequest{ContractVersion: ruleplugin.ContractVersion}
	answers := newAnswerCodec()
	first, err := c.Compile(ctx, req, grpc.ForceCodecV2(answers))
	if err != nil {
		return nil, p.explain(err)
	}
	if err := fewRows(first.GetTable()); err != nil {
		return nil, err
	}
	second, err := c.Compile(ctx, req, grpc.ForceCodecV2(answers))
	if err != nil {
		return nil, p.explain(err)
	}
	if !answers.alike && !proto.Equal(first, second) {
		return nil, errors.New("gave two different tables when asked twice; its table must not depend on time, chance or the order of a map")
	}
	return first.GetTable(), nil
}

// answerCodec is the codec of messages for two answers to one question. A second one of the
// same bytes as the first is not read: it would be the same message.
type answerCodec struct {
	encoding.CodecV2
	first []byte // nil before there was one
	alike bool   // the second is the first, byte for byte
}

func newAnswerCodec() *answerCodec {
	return &answerCodec{CodecV2: encoding.GetCodecV2(codec.Name)}
}

// Unmarshal implements encoding.CodecV2.
func (c *answerCodec) Unmarshal(data mem.BufferSlice, m any) error {
	answer := data.Materialize()
	if c.first == nil {
		c.first = answer
	} else if c.alike = bytes.Equal(c.first, answer); c.alike {
		return nil
	}
	return c.CodecV2.Unmarshal(data, m)
}

// fewRows refuses, before it is read, a table that has too many rows to be valid: what
// is wrong with a table is told row by row, which must not fill the memory.
func fewRows(t *ruletablev1.Table) error {
	if rows, cases := len(t.GetRows()), len(t.GetCases()); rows > rules.MaxRows || cases > rules.MaxCases {
		return fmt.Errorf("its table has %d rows and %d worked cases, and at most %d and %d are taken; ask its publisher for several rule sets", rows, cases, rules.MaxRows, rules.MaxCases)
	}
	return nil
}

func (p *plugin) explain(err error) error {
	text := shorten(status.Convert(err).Message(), 1_000)
	switch status.Code(err) {
	case codes.DeadlineExceeded:
		return fmt.Errorf("did not give its table within %s; ask its publisher for one that compiles faster", p.config.CompileTimeout)
	case codes.ResourceExhausted:
		return fmt.Errorf("its table is larger than the %d bytes that are taken (%s); ask its publisher for a smaller one", p.config.MaxTable, text)
	case codes.Unavailable:
		return fmt.Errorf("ended before it gave its table (%s); what it wrote to its standard error is in the log at debug level", text)
	}
	return fmt.Errorf("did not compile its table: %s: %s", status.Code(err), text)
}

// stop ends the plugin. go-plugin's Kill asks the plugin to end and waits without
// limit: on a process that is stopped, or whose child holds its output open, for
// ever. The signal that cannot be caught or blocked makes it return.
func (p *plugin) stop(client *goplugin.Client, run *process) {
	defer run.room.leave()
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		client.Kill()
	}()
	if within(ended, p.config.StopTimeout) {
		return
	}
	p.log.Warn().Dur("after", p.config.StopTimeout).Msg("rule plugin does not end; killed")
	run.kill()
	if !within(ended, p.config.StopTimeout) {
		p.log.Error().Msg("rule plugin was killed and its output is still held open; it is left behind")
	}
}

func within(done <-chan struct{}, limit time.Duration) bool {
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case <-done:
		return true
	case <-timer.C:
		return false
	}
}
