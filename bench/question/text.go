package question

import (
	"fmt"
	"slices"
	"strings"
)

// language is how one of them writes expressions.
type language struct {
	and, or, not, yes, no string
	equals, in            string // of a column and a word, or words
	choice                string // of a condition and two numbers
	least                 string // before the list
	ofFile                bool   // words stand in the columns as words
}

func (l *language) text(e Expr) string {
	switch e := e.(type) {
	case whole:
		return fmt.Sprint(int64(e))
	case among:
		return l.among(e)
	case compared:
		if e.below {
			return fmt.Sprintf("%s < %d", e.of, e.limit)
		}
		return fmt.Sprintf("%s >= %d", e.of, e.limit)
	case all:
		return l.joined(e, l.and, l.yes)
	case some:
		return l.joined(e, l.or, l.no)
	case not:
		return l.not + "(" + l.text(e.Expr) + ")"
	case choice:
		return fmt.Sprintf(l.choice, l.text(e.when), l.text(e.then), l.text(e.otherwise))
	case packed:
		text := l.text(e[0].Expr)
		for _, d := range e[1:] {
			text = fmt.Sprintf("(%s * %d + %s)", text, d.base, l.text(d.Expr))
		}
		return text
	case least:
		return l.least + "(" + strings.Join(l.texts(e), ", ") + ")"
	}
	panic(fmt.Sprintf("question: %T is not an expression", e))
}

func (l *language) texts(list []Expr) []string {
	texts := make([]string, len(list))
	for i, e := range list {
		texts[i] = l.text(e)
	}
	return texts
}

func (l *language) joined(list []Expr, by, empty string) string {
	if len(list) == 0 {
		return empty
	}
	return "(" + strings.Join(l.texts(list), by) + ")"
}

func (l *language) among(a among) string {
	names := a.of.words()
	if l.ofFile && names != nil {
		return wordsIn(a, names)
	}
	if len(a.words) == 1 {
		return fmt.Sprintf(l.equals, a.of, a.words[0])
	}
	return fmt.Sprintf(l.in, a.of, numbers(a.words))
}

func numbers(list []int64) string {
	texts := make([]string, len(list))
	for i, n := range list {
		texts[i] = fmt.Sprint(n)
	}
	return strings.Join(texts, ", ")
}

// wordsIn takes for 0, which no word stands for, whatever is none of the words.
func wordsIn(a among, names []string) string {
	if slices.Equal(a.words, []int64{0}) {
		return fmt.Sprintf("%s NOT IN (%s)", a.of, quoted(names[1:]))
	}
	var list []string
	for _, w := range a.words {
		list = append(list, names[w])
	}
	return fmt.Sprintf("%s IN (%s)", a.of, quoted(list))
}

func quoted(words []string) string { return "'" + strings.Join(words, "', '") + "'" }

// CEL gives the question in the Common Expression Language, with the extension that
// has math.least. Each column is a variable of type int.
func CEL() string {
	l := language{
		and: " && ", or: " || ", not: "!", yes: "true", no: "false",
		equals: "%s == %d", in: "%s in [%s]", choice: "(%s ? %s : %s)", least: "math.least",
	}
	return l.text(Logic)
}

func sql() language {
	return language{
		and: " AND ", or: " OR ", not: "NOT ", yes: "TRUE", no: "FALSE",
		equals: "%s = %d", in: "%s IN (%s)", choice: "(CASE WHEN %s THEN %s ELSE %s END)", least: "LEAST",
	}
}

// SQL gives the question over a table that has each column as a whole number.
func SQL() string {
	l := sql()
	return l.text(Logic)
}

// SQLOfFile gives the question over a table that was read from an inventory file: words
// stand in it as words.
func SQLOfFile() string {
	l := sql()
	l.ofFile = true
	return l.text(Logic)
}
