package tabletext

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// The limits keep a faulty or hostile text from taking the reader's time: the
// parser's grows with the square of a mapping's keys and of the depth.
const (
	maxText  = 1 << 20 // bytes
	maxLine  = 4_096   // bytes
	maxDepth = 16      // of nesting; a table nests 7 deep
	maxKeys  = 64      // of one mapping; no message has half as many
	maxShown = 200     // faults
)

// parse gives the body of the text's only document. What it cannot read at all it
// tells to the reader and gives nil.
func (r *reader) parse(text []byte) ast.Node {
	if !r.readable(text) {
		return nil
	}
	// Some editors begin a file with a byte order mark, which says nothing in UTF-8.
	tokens := lexer.Tokenize(strings.TrimPrefix(string(text), "\ufeff"))
	if !r.bounded(tokens) {
		return nil
	}
	file, err := parsed(tokens)
	if err != nil {
		r.syntax(err)
		return nil
	}
	return r.onlyDocument(file)
}

func (r *reader) readable(text []byte) bool {
	switch {
	case len(text) > maxText:
		r.at(1, 1, "", "the text has %d bytes; it may have at most %d: split the table into two rule sets", len(text), maxText)
		return false
	case !utf8.Valid(text):
		r.at(1, 1, "", "the text is not UTF-8; save it as UTF-8")
		return false
	}
	line := 0
	for row := range bytes.Lines(text) {
		line++
		if len(row) > maxLine {
			r.at(line, maxLine, "", "the line has %d bytes; it may have at most %d: break it", len(row), maxLine)
			return false
		}
	}
	return true
}

var refusedTokens = map[token.Type]string{
	token.AnchorType:    "an anchor (&) is not read; write the value out",
	token.AliasType:     "an alias (*) is not read; write the value out",
	token.TagType:       "a tag (!) is not read; leave it out: what a value is follows from its key",
	token.MergeKeyType:  "a merge key (<<) is not read; write the values out",
	token.DirectiveType: "a directive (%) is not read; leave it out",
}

// bounded tells what is refused before the parser sees it.
func (r *reader) bounded(tokens token.Tokens) bool {
	var n nesting
	for _, t := range tokens {
		line, column := t.Position.Line, t.Position.Column
		if why, refused := refusedTokens[t.Type]; refused {
			r.at(line, column, "", "%s", why)
		}
		if why := n.step(t); why != "" {
			r.at(line, column, "", "%s", why)
			return false
		}
	}
	return len(r.faults) == 0
}

// nesting follows how deep the tokens nest and how many keys each mapping has.
type nesting struct {
	line, dashes int
	flow         []int // keys of each open flow collection
	block        []level
}

type level struct{ column, keys int }

// step takes one token and says what passes a limit.
func (n *nesting) step(t *token.Token) string {
	if t.Position.Line != n.line {
		n.line, n.dashes = t.Position.Line, 0
	}
	switch t.Type {
	case token.MappingStartType, token.SequenceStartType:
		n.flow = append(n.flow, 0)
	case token.MappingEndType, token.SequenceEndType:
		n.flow = n.flow[:max(0, len(n.flow)-1)]
	case token.SequenceEntryType:
		n.dashes++
		n.indent(t.Position.Column)
	case token.MappingValueType:
		return n.key(t)
	}
	if len(n.flow)+len(n.block)+n.dashes > 2*maxDepth {
		return fmt.Sprintf("the text nests deeper than %d; a table does not", maxDepth)
	}
	return ""
}

// indent leaves the block collections that begin farther right.
func (n *nesting) indent(column int) {
	for len(n.block) > 0 && n.block[len(n.block)-1].column > column {
		n.block = n.block[:len(n.block)-1]
	}
}

func (n *nesting) key(t *token.Token) string {
	keys := 0
	switch {
	case len(n.flow) > 0:
		n.flow[len(n.flow)-1]++
		keys = n.flow[len(n.flow)-1]
	case t.Prev != nil:
		keys = n.blockKey(t.Prev.Position.Column)
	}
	if keys > maxKeys {
		return fmt.Sprintf("a mapping has more than %d keys; no part of a table has", maxKeys)
	}
	return ""
}

func (n *nesting) blockKey(column int) int {
	n.indent(column)
	if last := len(n.block) - 1; last >= 0 && n.block[last].column == column {
		n.block[last].keys++
		return n.block[last].keys
	}
	n.block = append(n.block, level{column, 1})
	return 1
}

// parsed turns a panic of the parser into an error.
func parsed(tokens token.Tokens) (file *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the text cannot be read as YAML: %v", p)
		}
	}()
	return parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
}

// syntax tells what the parser met: the first thing only, for it stops there.
func (r *reader) syntax(err error) {
	line, column, message := 1, 1, err.Error()
	if e, ok := err.(yaml.Error); ok {
		message = e.GetMessage()
		if t := e.GetToken(); t != nil {
			line, column = t.Position.Line, t.Position.Column
		}
	}
	r.at(line, column, "", "this is not YAML: %s; mend it first, what follows was not read", message)
}

func (r *reader) onlyDocument(file *ast.File) ast.Node {
	if len(file.Docs) == 0 || file.Docs[0].Body == nil {
		r.at(1, 1, "", "the text is empty; write a table with the keys manifest, rows and cases")
		return nil
	}
	if len(file.Docs) > 1 {
		where := begin(file.Docs[1])
		r.at(where.Line, where.Column, "", "a second document begins; keep one table in a text")
		return nil
	}
	return file.Docs[0].Body
}

// begin is where a document begins.
func begin(d *ast.DocumentNode) *token.Position {
	switch {
	case d.Start != nil:
		return d.Start.Position
	case d.Body != nil:
		return start(d.Body).Position
	}
	return &token.Position{Line: 1, Column: 1}
}
