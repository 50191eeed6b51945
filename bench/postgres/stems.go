package postgres

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"example.org/rootward/bench/question"
)

// Stems is a table of rows of the question.
type Stems struct {
	Rows int64
	conn *pgx.Conn
}

// Load loads rows into a table and has it analysed.
func Load(ctx context.Context, c *pgx.Conn, rows []question.Row) (*Stems, error) {
	columns := []string{"number integer"}
	names := []string{"number"}
	for i := range question.Columns {
		columns, names = append(columns, i.String()+" "+typeOf(i)), append(names, i.String())
	}
	if _, err := c.Exec(ctx, "DROP TABLE IF EXISTS stems; CREATE UNLOGGED TABLE stems ("+strings.Join(columns, ", ")+")"); err != nil {
		return nil, err
	}
	_, err := c.CopyFrom(ctx, pgx.Identifier{"stems"}, names, pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) {
		values := []any{int32(i)}
		for _, v := range rows[i] {
			values = append(values, v)
		}
		return values, nil
	}))
	if err != nil {
		return nil, err
	}
	_, err = c.Exec(ctx, "VACUUM ANALYZE stems")
	return &Stems{int64(len(rows)), c}, err
}

// typeOf is the smallest type that the column fits.
func typeOf(c question.Column) string {
	switch c {
	case question.Diameter, question.Height, question.Density, question.Slope, question.Stream, question.Wetland, question.Well, question.Beyond:
		return "integer"
	}
	return "smallint"
}

// Answers gives the answer for each row.
func (s *Stems) Answers(ctx context.Context) ([]question.Answer, error) {
	rows, err := s.conn.Query(ctx, "SELECT "+question.SQL()+" FROM stems ORDER BY number")
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(r pgx.CollectableRow) (question.Answer, error) {
		var n int64
		err := r.Scan(&n)
		return question.Answer(n), err
	})
}

// Aggregate counts the rows by answer, and gives how long that took.
func (s *Stems) Aggregate(ctx context.Context) (time.Duration, error) {
	return timed(ctx, s.conn, fmt.Sprintf("SELECT answer, count(*) FROM (SELECT %s AS answer FROM stems) AS answered GROUP BY answer", question.SQL()))
}
