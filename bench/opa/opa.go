// Package opa answers the bench's question with Open Policy Agent, embedded.
package opa

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/rego"

	"example.org/rootward/bench/question"
)

// Peer is a prepared query. It is for one goroutine.
type Peer struct {
	query  rego.PreparedEvalQuery
	inputs []ast.Value
}

// New prepares the query, and rows as its values, so that neither is timed.
func New(ctx context.Context, rows []question.Row) (*Peer, error) {
	query, err := rego.New(rego.Query("data.question.answer"), rego.Module("question.rego", question.Rego())).PrepareForEval(ctx)
	if err != nil {
		return nil, err
	}
	p := &Peer{query: query}
	for i := range rows {
		p.inputs = append(p.inputs, input(&rows[i]))
	}
	return p, nil
}

func input(r *question.Row) ast.Value {
	pairs := make([][2]*ast.Term, question.Columns)
	for c := range question.Columns {
		pairs[c] = [2]*ast.Term{ast.StringTerm(c.String()), ast.NumberTerm(json.Number(fmt.Sprint(r[c])))}
	}
	return ast.NewObject(pairs...)
}

// Answer answers for a row by its place in the list.
func (p *Peer) Answer(ctx context.Context, row int) (question.Answer, error) {
	results, err := p.query.Eval(ctx, rego.EvalParsedInput(p.inputs[row]))
	if err != nil {
		return 0, err
	}
	if len(results) == 0 {
		return 0, fmt.Errorf("row %d has no answer", row)
	}
	n, err := results[0].Expressions[0].Value.(json.Number).Int64()
	return question.Answer(n), err
}
