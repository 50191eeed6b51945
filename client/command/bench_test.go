package command_test

import (
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/testdata/many"
)

// BenchmarkPrescribe prescribes inventories with the real programs, from file to
// file: reading, sending, deciding, receiving and writing, and the start of the
// server.
func BenchmarkPrescribe(b *testing.B) {
	const rows = 100_000
	folder := b.TempDir()
	for _, format := range []struct {
		ending string
		write  func(w io.Writer, seed uint64, rows int64) error
	}{{"csv", many.WriteCSV}, {"parquet", many.WriteParquet}} {
		path := filepath.Join(folder, "inventory."+format.ending)
		file, err := os.Create(path)
		require.NoError(b, err)
		require.NoError(b, format.write(file, 1, rows))
		require.NoError(b, file.Close())
		for name, out := range map[string][]string{
			"summary": nil,
			"csv":     {"--out-csv", filepath.Join(folder, "rows.csv")},
			"compact": {"--out-csv", filepath.Join(folder, "rows.csv"), "--out-explanations", filepath.Join(folder, "explanations.csv")},
			"parquet": {"--out-parquet", filepath.Join(folder, "rows.parquet")},
		} {
			b.Run(format.ending+" to "+name, func(b *testing.B) {
				for b.Loop() {
					require.Zero(b, rootward(b, append([]string{"prescribe", path, "--date", many.Date, "--standing", "certified"}, out...)...).code)
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/rows, "ns/row")
			})
		}
	}
}
