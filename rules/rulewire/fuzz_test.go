package rulewire_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulewire"
)

// FuzzDecodeTable sees that no bytes a plugin could send make the host panic, and
// that a table which was read says the same when it is sent on.
func FuzzDecodeTable(f *testing.F) {
	drawn := rapid.Custom(func(t *rapid.T) rules.Table {
		table := table(t)
		table.Cases = []rules.Case{workedCase(t)}
		return table
	})
	for seed := range 20 {
		table := drawn.Example(seed)
		f.Add(marshal(f, rulewire.EncodeTable(&table)))
	}
	f.Add(marshal(f, full()))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var message pb.Table
		if proto.Unmarshal(raw, &message) != nil {
			return
		}
		table, err := rulewire.DecodeTable(&message)
		if err != nil {
			return
		}
		again, err := rulewire.DecodeTable(rulewire.EncodeTable(&table))
		require.NoError(t, err)
		require.Equal(t, table, again)
		_, _ = rules.NewSet(table)
	})
}

func marshal(f *testing.F, m proto.Message) []byte {
	raw, err := proto.Marshal(m)
	require.NoError(f, err)
	return raw
}
