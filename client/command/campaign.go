package command

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"example.org/rootward/client"
)

// written is what all commands that write into a campaign have.
type written struct {
	RequestID string `name:"request-id" placeholder:"UUID" help:"Id of this write. After a failure, repeat the command with the id that it printed: nothing is kept twice. Default: a new one."`
}

// id gives the id of the write, and says it before anything is sent.
func (w *written) id(r *run) string {
	if w.RequestID == "" {
		w.RequestID = client.NewRequestID()
		if !r.quiet {
			fmt.Fprintln(r.stderr, "request", w.RequestID)
		}
	}
	return w.RequestID
}

// described is what is kept, as a file states it.
type described struct {
	File string `required:"" placeholder:"FILE" help:"YAML or JSON with the fields as docs/campaign.md lists them; - reads standard input."`
}

// convertedAt is where something stands in what was converted from a file.
var convertedAt = regexp.MustCompile(` ?\(line \d+:\d+\)`)

// maxDescription bounds such a file in bytes: a server takes no larger message.
const maxDescription = 16 << 20

// read reads the file into a message, and gives the fields that it states.
func (d *described) read(m proto.Message) ([]string, error) {
	text, err := d.text()
	if err != nil {
		return nil, err
	}
	// JSON is YAML, too.
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return nil, fmt.Errorf("%s: %s", d.File, yaml.FormatError(err, false, false))
	}
	stands, err := oneDocument(file)
	if err != nil {
		return nil, fmt.Errorf("%s, %w", d.File, err)
	}
	text, err = asJSON(stands)
	if err != nil {
		return nil, fmt.Errorf("%s: %s", d.File, yaml.FormatError(err, false, false))
	}
	stated := map[string]json.RawMessage{}
	noFields := json.Unmarshal(text, &stated) != nil || stated == nil
	if err := protojson.Unmarshal(text, m); err != nil || noFields {
		if fault := faultOf(stands, m.ProtoReflect().Descriptor()); fault != nil {
			return nil, fmt.Errorf("%s, %w", d.File, fault)
		}
		if noFields {
			return nil, fmt.Errorf("%s holds no fields: write lines of the form \"field: value\"", d.File)
		}
		said := strings.TrimPrefix(strings.ReplaceAll(err.Error(), "\u00a0", " "), "proto: ")
		said = convertedAt.ReplaceAllString(said, "") // of lines that nobody wrote
		return nil, fmt.Errorf("%s: %s", d.File, strings.TrimPrefix(said, ": "))
	}
	var fields []string
	for name := range stated {
		fields = append(fields, string(fieldNamed(m, name)))
	}
	return fields, nil
}

func asJSON(stands ast.Node) ([]byte, error) {
	var v any
	if stands != nil {
		if err := yaml.NodeToValue(stands, &v, yaml.UseOrderedMap()); err != nil {
			return nil, err
		}
	}
	return yaml.MarshalWithOptions(v, yaml.JSON())
}

// fieldNamed gives a field's name for that or its JSON form.
func fieldNamed(m proto.Message, name string) protoreflect.Name {
	fields := m.ProtoReflect().Descriptor().Fields()
	if f := fields.ByJSONName(name); f != nil {
		return f.Name()
	}
	return protoreflect.Name(name)
}

func (d *described) text() ([]byte, error) {
	in := io.Reader(os.Stdin)
	if d.File != "-" {
		f, err := os.Open(d.File)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		in = f
	}
	text, err := io.ReadAll(io.LimitReader(in, maxDescription+1))
	if err == nil && len(text) > maxDescription {
		err = fmt.Errorf("%s has more than %d bytes: a server takes no larger message", d.File, maxDescription)
	}
	return text, err
}

// mask names the fields that change.
func mask(fields []string) *fieldmaskpb.FieldMask { return &fieldmaskpb.FieldMask{Paths: fields} }

// whole shows a message in full, as JSON with the names of the proto files.
func whole(r *run, m proto.Message) error {
	text, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(m)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := json.Indent(&out, text, "", "  "); err != nil {
		return err
	}
	out.WriteByte('\n')
	_, err = r.stdout.Write(out.Bytes())
	return err
}

// everyPage calls for pages until the last.
func everyPage(next func(token string) (string, error)) error {
	for token := ""; ; {
		following, err := next(token)
		if err != nil || following == "" {
			return err
		}
		if following == token {
			return errors.New("the server gives the same page again and again")
		}
		token = following
	}
}
