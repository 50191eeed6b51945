package tabletext_test

import (
	"encoding/json"
	"testing"

	"example.org/rootward/plugins/tablefile/tabletext"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulewire"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"
)

// requiredKeys are the required keys of each message, as the schema has them.
func requiredKeys() map[string][]string {
	var schema struct {
		Defs map[string]struct{ Required []string } `json:"$defs"`
	}
	if err := json.Unmarshal(tabletext.Schema, &schema); err != nil {
		panic(err)
	}
	keys := map[string][]string{}
	for name, def := range schema.Defs {
		keys[name] = def.Required
		if name == "Case" {
			keys[name] = append(keys[name], "on", "treatment")
		}
	}
	return keys
}

// again writes a rule set as text and reads it back.
func again(t require.TestingT, set *rules.Set) *rules.Set {
	text, err := tabletext.Write(rulewire.EncodeTable(&set.Table))
	require.NoError(t, err)
	back, err := tabletext.Read("written.yaml", text)
	require.NoError(t, err, "%s", text)
	return back
}

// Whatever the contract can say, the text can say.
func TestEveryMessageComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t)
		text, err := tabletext.Write(table)
		require.NoError(t, err)
		back, err := tabletext.ReadMessage(text)
		require.NoError(t, err, "%s", text)
		require.True(t, proto.Equal(table, back), "%s\n%v\n%v", text, table, back)
	})
}
