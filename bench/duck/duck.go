//go:build cgo

// Package duck answers the bench's question with DuckDB, from an inventory file to a
// file of answers. It needs a C compiler; without one it says so.
package duck

import (
	"database/sql"
	"fmt"
	"time"

	_ "github.com/duckdb/duckdb-go/v2" // the driver

	"example.org/rootward/bench/question"
)

// Prescribe reads an inventory, answers every row and writes the answers, on so many
// threads.
func Prescribe(in, out string, threads int) (time.Duration, error) {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return 0, err
	}
	defer db.Close()
	if _, err := db.Exec(fmt.Sprintf("SET threads = %d; SET preserve_insertion_order = true", threads)); err != nil {
		return 0, err
	}
	began := time.Now()
	_, err = db.Exec(statement(in, out))
	return time.Since(began), err
}

// statement reads the columns that the question asks for, with their types stated, so that
// none is guessed. A diameter is text: some are no number.
func statement(in, out string) string {
	source := question.FromFile(fmt.Sprintf("read_csv('%s', header = true, all_varchar = false, types = {'dbh_in': 'VARCHAR', 'root_collar_in': 'VARCHAR', 'distance_wetland_from': 'VARCHAR', 'distance_well_from': 'VARCHAR', 'distance_perennial_stream_from': 'VARCHAR'})", in))
	return fmt.Sprintf(`COPY (
SELECT occurrenceID, CASE WHEN answer = %d THEN 'rejected' WHEN answer = %d THEN 'deferred' WHEN answer // 256 < 8 THEN 'prescribed' ELSE 'undetermined' END AS outcome,
  CASE WHEN answer < %d THEN list_extract(%s, 1 + CAST(answer %% 16 AS INTEGER)) END AS treatment, answer
FROM (SELECT occurrenceID, %s AS answer FROM (%s) AS columns) AS answered
) TO '%s' (HEADER)`, question.NoStem, question.Refused, question.Refused, treatments(), question.SQLOfFile(), source, out)
}

func treatments() string {
	text := "["
	for i, t := range question.Treatments {
		if i > 0 {
			text += ", "
		}
		text += "'" + t.Method.String() + " " + t.Formulation + "'"
	}
	return text + "]"
}
