package ruleplugin

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// DescribeFlag makes a plugin write its Description as JSON to its standard
// output and exit, before any handshake. A host that speaks another version of
// the contract can so say what is wrong.
const DescribeFlag = "--describe"

// Description is what a plugin says of itself.
type Description struct {
	ContractVersion int        `json:"contract_version"`
	RuleSetID       string     `json:"rule_set_id"`
	Version         string     `json:"version"`
	Title           string     `json:"title"`
	Publisher       string     `json:"publisher"`
	Layer           string     `json:"layer"`
	Scope           string     `json:"scope"`
	ValidFrom       civil.Date `json:"valid_from"`
	ValidTo         civil.Date `json:"valid_to"`  // empty while it has no end
	ReviewBy        civil.Date `json:"review_by"` // empty when nobody set one
	Rows            int        `json:"rows"`
	Cases           int        `json:"cases"`
	Digest          string     `json:"digest"` // of the table, as rules.NewSet gives it
}

// Describe describes a rule set.
func Describe(s *rules.Set) Description {
	m := &s.Table.Manifest
	return Description{
		ContractVersion: ContractVersion,
		RuleSetID:       m.ID,
		Version:         m.Version,
		Title:           m.Title,
		Publisher:       m.Publisher,
		Layer:           m.Layer.String(),
		Scope:           m.Scope,
		ValidFrom:       m.ValidFrom,
		ValidTo:         m.ValidTo,
		ReviewBy:        m.ReviewBy,
		Rows:            len(s.Table.Rows),
		Cases:           len(s.Table.Cases),
		Digest:          s.Ref.Digest,
	}
}

// Write writes the description as indented JSON.
func (d *Description) Write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(d)
}

// ReadDescription reads what Write writes: one JSON object and nothing after it.
// It accepts fields it does not know, since only the contract version can say
// whether the rest is understood.
func ReadDescription(text []byte) (Description, error) {
	var d Description
	r := json.NewDecoder(bytes.NewReader(text))
	if err := r.Decode(&d); err != nil {
		return Description{}, fmt.Errorf("not a description in JSON: %w", err)
	}
	if _, err := r.Token(); err != io.EOF {
		return Description{}, errors.New("something follows the description")
	}
	if d.ContractVersion == 0 {
		return Description{}, errors.New("the description has no contract_version")
	}
	return d, nil
}
