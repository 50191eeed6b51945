package ruleplugin_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/ruleplugin"
)

func TestADescriptionIsReadAsItWasWritten(t *testing.T) {
	d := ruleplugin.Description{
		ContractVersion: 1, RuleSetID: "velmora", Version: "2024", Title: "A \"title\"", Layer: "state", Scope: "us/velmora",
		ValidFrom: civil.Of(2024, 1, 1), ReviewBy: civil.Of(2028, 12, 31), Rows: 3, Cases: 4, Digest: "abc",
	}
	var text bytes.Buffer
	require.NoError(t, d.Write(&text))
	back, err := ruleplugin.ReadDescription(text.Bytes())
	require.NoError(t, err)
	assert.Equal(t, d, back)
}

func TestALaterContractMayDescribeMore(t *testing.T) {
	d, err := ruleplugin.ReadDescription([]byte(`{"contract_version": 2, "rule_sets": [{"id": "velmora"}]}`))
	require.NoError(t, err)
	assert.Equal(t, 2, d.ContractVersion)
}

func TestWhatIsNoDescription(t *testing.T) {
	for text, want := range map[string]string{
		"":                                  "not a description in JSON",
		"usage: velmora [options]":          "not a description in JSON",
		`[]`:                                "not a description in JSON",
		`{}`:                                "no contract_version",
		`{"contract_version": 1} and more`:  "something follows",
		`{"contract_version": 1}{"a": "b"}`: "something follows",
		`{"valid_from": "2024-02-30"}`:      "not a description in JSON",
		`{"contract_version": "1"}`:         "not a description in JSON",
	} {
		_, err := ruleplugin.ReadDescription([]byte(text))
		assert.ErrorContains(t, err, want, "%q", text)
	}
}
