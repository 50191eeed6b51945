package question

import (
	"fmt"
	"strings"
)

// Rego gives the question as the rule answer of package question, over an input object
// with a number a column.
func Rego() string {
	r := rego{names: map[string]string{}}
	top := r.number(Logic)
	return "package question\n\n" + r.rules.String() + "\nanswer := " + top + "\n"
}

// rego writes what has parts as a rule of its own, once.
type rego struct {
	rules strings.Builder
	names map[string]string // of rules, by their body
}

func (r *rego) rule(kind, body string) string {
	name, ok := r.names[body]
	if !ok {
		name = fmt.Sprintf("%s%d", kind, len(r.names)+1)
		r.names[body] = name
		r.rules.WriteString(strings.ReplaceAll(body, "NAME", name) + "\n")
	}
	return name
}

// number gives an expression of a number as a term.
func (r *rego) number(e Expr) string {
	switch e := e.(type) {
	case whole:
		return fmt.Sprint(int64(e))
	case choice:
		return r.rule("n", fmt.Sprintf("NAME := %s if {\n%s} else := %s\n", r.number(e.then), r.lines(e.when), r.number(e.otherwise)))
	case packed:
		text := r.number(e[0].Expr)
		for _, d := range e[1:] {
			text = fmt.Sprintf("((%s * %d) + %s)", text, d.base, r.number(d.Expr))
		}
		return text
	case least:
		terms := make([]string, len(e))
		for i, one := range e {
			terms[i] = r.number(one)
		}
		return "min([" + strings.Join(terms, ", ") + "])"
	}
	panic(fmt.Sprintf("question: %T is not a number", e))
}

// lines gives an expression of truth as the lines of a body, all of which hold.
func (r *rego) lines(e Expr) string {
	list, ok := e.(all)
	if !ok {
		return "\t" + r.truth(e) + "\n"
	}
	if len(list) == 0 {
		return "\ttrue\n"
	}
	var text string
	for _, one := range list {
		text += r.lines(one)
	}
	return text
}

// truth gives an expression of truth as one line.
func (r *rego) truth(e Expr) string {
	switch e := e.(type) {
	case among:
		column := "input." + e.of.String()
		if len(e.words) == 1 {
			return fmt.Sprintf("%s == %d", column, e.words[0])
		}
		return fmt.Sprintf("%s in {%s}", column, numbers(e.words))
	case compared:
		sign := map[bool]string{true: "<", false: ">="}[e.below]
		return fmt.Sprintf("input.%s %s %d", e.of, sign, e.limit)
	case not:
		if twice, ok := e.Expr.(not); ok {
			return r.truth(twice.Expr)
		}
		return "not " + r.truth(e.Expr)
	case all:
		return r.rule("b", "NAME if {\n"+r.lines(e)+"}\n")
	case some:
		if len(e) == 0 {
			return "false"
		}
		var body string
		for _, one := range e {
			body += "NAME if {\n" + r.lines(one) + "}\n"
		}
		return r.rule("b", body)
	}
	panic(fmt.Sprintf("question: %T is not true or false", e))
}
