package inventory

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Plain lines are cut where one who looks at each byte cuts them, whatever stands behind them
// or was cut before.
func TestPlainLinesAreCutAtTheirCommas(t *testing.T) {
	cutters := map[int]*quickLines{}
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.SampledFrom([]int{1, 2, 3, 31, 500}).Draw(t, "columns")
		if cutters[columns] == nil {
			l := newQuickLines(columns)
			cutters[columns] = &l
		}
		l := cutters[columns]
		l.most = rapid.IntRange(1, linesAtOnce).Draw(t, "lines at once")
		cell := rapid.SampledFrom([]string{"", "", "a", "12.5", "a longer text", strings.Repeat("x", 70)})
		odd := rapid.SampledFrom([]string{`"`, `"a,b"`, "é", "\xff", "\r", "\n", ",", strings.Repeat("x", longest)})
		var text bytes.Buffer
		for range rapid.IntRange(0, 100).Draw(t, "lines") {
			cells := make([]string, columns)
			for i := range min(columns, 40) {
				cells[i] = cell.Draw(t, "cell")
			}
			if rapid.IntRange(0, 40).Draw(t, "odd") == 0 {
				cells[rapid.IntRange(0, columns-1).Draw(t, "at")] += odd.Draw(t, "text")
			}
			text.WriteString(strings.Join(cells, ",") + rapid.SampledFrom([]string{"\n", "\n", "\n", "\r\n"}).Draw(t, "end"))
		}
		text.WriteString(strings.Repeat(",\n", roomBehind)) // that is not to be taken
		all := text.Bytes()
		cuts, uneven := cutByByte(all[:len(all)-2*roomBehind], columns, l.most)
		l.cut(all[:len(all)-2*roomBehind])
		if len(cuts) == 1 {
			return // what is left is cut with its quotes
		}
		require.Equal(t, (len(cuts)-1)/columns, l.n)
		require.Equal(t, cuts, l.cuts[:len(cuts)])
		require.Equal(t, uneven, l.uneven)
	})
}

func cutByByte(text []byte, columns, most int) (cuts []int32, uneven bool) {
	cuts = []int32{-1}
	line, from := []int32{}, 0
	for i, b := range text {
		switch {
		case b == '"' || b >= utf8.RuneSelf || i-from > longest || len(cuts) > most*columns:
			return cuts, uneven
		case b == ',':
			line = append(line, int32(i))
		case b == '\n':
			if line = append(line, int32(i)); i == from || len(line) != columns {
				return cuts, uneven
			}
			uneven = uneven || text[i-1] == '\r'
			cuts, line, from = append(cuts, line...), line[:0], i+1
		}
	}
	return cuts, uneven
}
