package tabletext_test

import (
	"os"
	"path/filepath"
	"testing"

	"example.org/rootward/plugins/tablefile/tabletext"
	"github.com/stretchr/testify/require"
)

// FuzzRead sees that no text makes the reader panic, that every fault has a place in
// the text, and that what is accepted says the same when it is written and read again.
func FuzzRead(f *testing.F) {
	samples, err := filepath.Glob("../testdata/*.yaml")
	require.NoError(f, err)
	for _, sample := range samples {
		text, err := os.ReadFile(sample)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Add([]byte(minimal))
	f.Fuzz(func(t *testing.T, text []byte) {
		set, err := tabletext.Read("f.yaml", text)
		if err != nil {
			var faults tabletext.Faults
			require.ErrorAs(t, err, &faults)
			for _, fault := range faults {
				require.Positive(t, fault.Line)
				require.Positive(t, fault.Column)
				require.NotEmpty(t, fault.Problem)
			}
			return
		}
		require.Equal(t, set.Ref, again(t, set).Ref)
	})
}
