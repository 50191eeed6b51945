package tabletext_test

import (
	"os"
	"testing"

	"example.org/rootward/plugins/tablefile/tabletext"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruletest"
	"github.com/stretchr/testify/require"
)

// The sample of an agency's file passes the kit that rule sets in Go pass.
func TestSample(t *testing.T) {
	text, err := os.ReadFile("../testdata/lower-brack.yaml")
	require.NoError(t, err)
	set, err := tabletext.Read("lower-brack.yaml", text)
	require.NoError(t, err)
	ruletest.Check(t, func() rules.Table { return set.Table })
	require.Equal(t, set.Ref, again(t, set).Ref)
}
