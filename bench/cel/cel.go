// Package cel answers the bench's question with cel-go.
package cel

import (
	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"github.com/google/cel-go/ext"
	"github.com/google/cel-go/interpreter"

	"example.org/rootward/bench/question"
)

// Peer is a compiled program. It is for one goroutine.
type Peer struct {
	program cel.Program
	rows    []activation
}

// New compiles the program, and makes rows into its values, so that neither is timed.
func New(rows []question.Row) (*Peer, error) {
	options := []cel.EnvOption{ext.Math()}
	for c := range question.Columns {
		options = append(options, cel.Variable(c.String(), cel.IntType))
	}
	environment, err := cel.NewEnv(options...)
	if err != nil {
		return nil, err
	}
	checked, issues := environment.Compile(question.CEL())
	if issues.Err() != nil {
		return nil, issues.Err()
	}
	program, err := environment.Program(checked, cel.EvalOptions(cel.OptOptimize))
	if err != nil {
		return nil, err
	}
	p := &Peer{program: program}
	for i := range rows {
		p.rows = append(p.rows, activate(&rows[i]))
	}
	return p, nil
}

// activation is a row's values by name.
type activation map[string]ref.Val

func activate(r *question.Row) activation {
	a := activation{}
	for c := range question.Columns {
		a[c.String()] = types.Int(r[c])
	}
	return a
}

// ResolveName implements interpreter.Activation.
func (a activation) ResolveName(name string) (any, bool) {
	v, ok := a[name]
	return v, ok
}

// Parent implements interpreter.Activation.
func (a activation) Parent() interpreter.Activation { return nil }

// Answer answers for a row by its place in the list.
func (p *Peer) Answer(row int) (question.Answer, error) {
	v, _, err := p.program.Eval(p.rows[row])
	if err != nil {
		return 0, err
	}
	return question.Answer(v.Value().(int64)), nil
}
