package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"example.org/rootward/plugins/tablefile/tabletext"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulecoverage"
)

// table is a file with a table that loads and says nothing that a text cannot.
type table struct {
	text   []byte
	set    *rules.Set
	places *tabletext.Places
}

// read reads a file with a table. Its error is tabletext.Faults or that of the file.
func read(name string) (*table, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	// One byte more than may be bound shows that there is more.
	text, err := io.ReadAll(io.LimitReader(f, maxBound+1))
	if err != nil {
		return nil, err
	}
	set, places, err := tabletext.ReadPlaces(name, text)
	if err != nil {
		return nil, err
	}
	return &table{text, set, places}, uncomputed(set, places)
}

// uncovered tells what the worked cases do not show, each at its row. Nobody checked
// that such a row says what it is meant to.
func (t *table) uncovered() error {
	var faults tabletext.Faults
	for _, g := range rulecoverage.Missing(t.set) {
		row := slices.IndexFunc(t.set.Table.Rows, func(r rules.Row) bool { return r.ID == g.Row })
		faults = append(faults, t.places.Row(row, g.String()))
	}
	if len(faults) > 0 {
		return faults
	}
	return nil
}

// uncomputed refuses rows that a plugin computes, for a text computes nothing: all
// they would say is that nothing is known.
func uncomputed(set *rules.Set, places *tabletext.Places) error {
	var faults tabletext.Faults
	for i := range set.Table.Rows {
		if set.Table.Rows[i].Effect.Kind() == rules.KindComputed {
			faults = append(faults, places.Row(i, "a table file cannot compute a window; state it with the effect window, or write the plugin in a programming language"))
		}
	}
	if len(faults) > 0 {
		return faults
	}
	return nil
}

func checkAll(names []string, stdout io.Writer) error {
	var wrong []error
	for _, name := range names {
		t, err := read(name)
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		fmt.Fprintf(stdout, "%s: %s\n", name, summary(t.set))
		wrong = append(wrong, t.uncovered())
	}
	return errors.Join(wrong...)
}

func summary(set *rules.Set) string {
	return fmt.Sprintf("%s %s, %d rows, %d worked cases pass, digest %s",
		set.Ref.ID, set.Ref.Version, len(set.Table.Rows), len(set.Table.Cases), set.Ref.Digest)
}

func bindFile(name, out string, stdout io.Writer) error {
	t, err := read(name)
	if err != nil {
		return err
	}
	if err := t.uncovered(); err != nil {
		return fmt.Errorf("%w\n%s is not bound: its worked cases do not show all that its rows say; add the cases that are listed above, then bind it again", err, name)
	}
	program, err := self()
	if err != nil {
		return err
	}
	defer program.Close()
	if err := bind(program, t.text, out); err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%s: %s\n", out, summary(t.set))
	return nil
}

func printBound(names []string, stdout io.Writer) error {
	program, err := opened(names)
	if err != nil {
		return err
	}
	defer program.Close()
	text, _, err := readBound(program)
	if err != nil {
		return fmt.Errorf("%s: %w", program.Name(), err)
	}
	_, err = stdout.Write(text)
	return err
}

// opened opens the program that is named, or this one.
func opened(names []string) (*os.File, error) {
	if len(names) == 0 {
		return self()
	}
	return os.Open(names[0])
}
