package question

// Expr is an expression over the columns of a row, of whole numbers or of truth.
type Expr interface{ number(*Row) int64 }

// The kinds of expression. Truth is 1 or 0.
type (
	whole int64 // a constant
	// among is whether a word is one of these.
	among struct {
		of    Column
		words []int64
	}
	// compared is whether a column is at least, or below, a limit.
	compared struct {
		of    Column
		below bool
		limit int64
	}
	all  []Expr // every one holds
	some []Expr // one of them holds
	not  struct{ Expr }
	// choice is the first or the second, as the condition holds or not.
	choice struct{ when, then, otherwise Expr }
	// packed is a number of digits, each below its base; the base of the first is of no
	// account.
	packed []digit
	least  []Expr
)

type digit struct {
	base int64
	Expr
}

// Eval gives the value of an expression for a row.
func Eval(e Expr, r *Row) int64 { return e.number(r) }

func (w whole) number(*Row) int64 { return int64(w) }

func (a among) number(r *Row) int64 {
	for _, w := range a.words {
		if r[a.of] == w {
			return 1
		}
	}
	return 0
}

func (c compared) number(r *Row) int64 { return truth((r[c.of] < c.limit) == c.below) }

func (l all) number(r *Row) int64 {
	for _, e := range l {
		if e.number(r) == 0 {
			return 0
		}
	}
	return 1
}

func (l some) number(r *Row) int64 {
	for _, e := range l {
		if e.number(r) != 0 {
			return 1
		}
	}
	return 0
}

func (n not) number(r *Row) int64 { return 1 - n.Expr.number(r) }

func (c choice) number(r *Row) int64 {
	if c.when.number(r) != 0 {
		return c.then.number(r)
	}
	return c.otherwise.number(r)
}

func (p packed) number(r *Row) int64 {
	var n int64
	for _, d := range p {
		n = n*d.base + d.Expr.number(r)
	}
	return n
}

func (l least) number(r *Row) int64 {
	n := l[0].number(r)
	for _, e := range l[1:] {
		n = min(n, e.number(r))
	}
	return n
}

func truth(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

func is[W ~uint8](of Column, words ...W) Expr {
	a := among{of: of}
	for _, w := range words {
		a.words = append(a.words, int64(w))
	}
	return a
}

func atLeast(of Column, limit int64) Expr { return compared{of, false, limit} }
func below(of Column, limit int64) Expr   { return compared{of, true, limit} }
func known(of Column) Expr                { return atLeast(of, 0) }
func unknown(of Column) Expr              { return below(of, 0) }
