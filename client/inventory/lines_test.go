package inventory_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/client/inventory"
)

// sheetOf writes rows without a last line end, some of them odd. The id of each is the line
// on which it begins, a wrong diameter or place says on which line that stands, as people
// count lines.
func sheetOf(rows int, odd bool, remark string) string {
	text, line := &strings.Builder{}, 2
	text.WriteString("occurrenceID,locationID,form,place,occurrenceRemarks,dbh_in,scientificName\n")
	for i := range rows {
		quoted, diameter, place := remark, "6", "us/velmora"
		if odd {
			switch i % 40 {
			case 3:
				quoted = "\"" + remark + "\nby the gate\""
			case 9:
				quoted, diameter = "\""+remark+"\n\nby the gate\"", fmt.Sprint("x", line+2)
			case 14:
				diameter = fmt.Sprint("x", line)
			case 21:
				text.WriteString("\n\n")
				line += 2
			case 26:
				quoted = "\"" + remark + ", by the gate\""
			case 33:
				place = fmt.Sprint("us/x", line) // than the rows before say of the site
			case 38:
				quoted = "5\" by 6\""
			}
		}
		row := fmt.Sprintf("%d,north,tree,%s,%s,%s,Ailanthus altissima", line, place, quoted, diameter)
		text.WriteString(row)
		if line += strings.Count(row, "\n") + 1; i < rows-1 {
			text.WriteString("\n")
		}
	}
	return text.String()
}

// crlf has lines end as some spreadsheets have them: within quotes as elsewhere, or not.
func crlf(text string, quotedToo bool) string {
	if quotedToo {
		return strings.ReplaceAll(text, "\n", "\r\n")
	}
	parts := strings.Split(text, "\"")
	for i, part := range parts {
		if i%2 == 0 {
			parts[i] = strings.ReplaceAll(part, "\n", "\r\n")
		}
	}
	return strings.Join(parts, "\"")
}

// readRow is what can be asked of a row of a block.
type readRow struct {
	number             int64
	line, index        int
	id, remarks, about string
	faults             []inventory.Fault
}

type readBlock struct {
	firstRow int64
	message  []byte
	rows     []readRow
}

func blocksOf(t *testing.T, text string) (list []readBlock) {
	t.Helper()
	r, err := inventory.NewCSV(strings.NewReader(text))
	require.NoError(t, err)
	block := &inventory.Block{}
	for err = r.Fill(block); err == nil; err = r.Fill(block) {
		b := readBlock{firstRow: block.FirstRow, message: bytes.Join(block.Message, nil)}
		for i := range block.Len() {
			rec := block.Record(i)
			b.rows = append(b.rows, readRow{
				block.Number(i), block.Line(i), block.Index(i), rec.Stem.StemId, rec.Remarks, fmt.Sprint(rec.Line, rec.SiteID, rec.Place, rec.Stem.DiameterCm != nil), rec.Faults,
			})
		}
		list = append(list, b)
	}
	require.ErrorIs(t, err, io.EOF)
	return list
}

// requireSameLines holds a copy of a file to the file: the same rows in the same blocks, the
// same faults on the same lines, and the same sites.
func requireSameLines(t *testing.T, want []readBlock, survey *inventory.Survey, text string) {
	t.Helper()
	got := blocksOf(t, text)
	require.Equal(t, len(want), len(got), "blocks")
	for i := range want {
		require.Equal(t, len(want[i].rows), len(got[i].rows), "rows of block %d", i)
		if !reflect.DeepEqual(want[i].rows, got[i].rows) { // which takes much less time
			for k := range want[i].rows {
				require.Equal(t, want[i].rows[k], got[i].rows[k])
			}
		}
		require.Equal(t, want[i].firstRow, got[i].firstRow)
		require.True(t, bytes.Equal(want[i].message, got[i].message), "the chunk of block %d", i)
	}
	again, err := inventory.SurveyOf(write(t, "copy.csv", text))
	require.NoError(t, err)
	require.Equal(t, survey.Rows, again.Rows)
	require.Equal(t, survey.Conflicts, again.Conflicts)
	require.Len(t, again.Sites, len(survey.Sites))
	for i, site := range survey.Sites {
		require.True(t, proto.Equal(site, again.Sites[i]), "%v, want %v", again.Sites[i], site)
	}
}

// A file says the same whatever its lines end in, those within quotes too, and whether its
// last line ends or not (RFC 4180, section 2, items 1 and 2).
func TestLineEndsChangeNothing(t *testing.T) {
	everyFault, err := os.ReadFile(filepath.Join("testdata", "faults.csv"))
	require.NoError(t, err)
	for name, of := range map[string]struct {
		text   string
		blocks int
	}{
		"every fault":                  {strings.TrimSuffix(string(everyFault), "\n"), 1},
		"more rows than a block has":   {sheetOf(20_000, false, ""), 2},
		"some of them odd":             {sheetOf(20_000, true, "é"), 2},
		"more text than a block has":   {sheetOf(9_000, false, strings.Repeat("a", 1_000)), 2},
		"and some of the rows odd":     {sheetOf(9_000, true, strings.Repeat("a", 1_000)), 2},
		"long values over many a line": {sheetOf(400, false, "\""+strings.Repeat("by the gate\n", 3_000)+"\""), 2},
	} {
		t.Run(name, func(t *testing.T) {
			const much = 4 << 20
			if testing.Short() && len(of.text) > much {
				t.Skip("the race detector takes long for much text")
			}
			want := blocksOf(t, of.text)
			require.Equal(t, of.blocks, len(want))
			survey, err := inventory.SurveyOf(write(t, "inventory.csv", of.text))
			require.NoError(t, err)
			requireSameLines(t, want, survey, of.text+"\n")
			for _, quotedToo := range []bool{true, false} {
				requireSameLines(t, want, survey, crlf(of.text, quotedToo))
				requireSameLines(t, want, survey, crlf(of.text+"\n", quotedToo))
			}
		})
	}
}

// So it is wherever the file ends.
func TestLineEndsOfSmallFilesChangeNothing(t *testing.T) {
	for rows := 1; rows <= 41; rows++ {
		text := sheetOf(rows, true, "é")
		want := blocksOf(t, text)
		survey, err := inventory.SurveyOf(write(t, "inventory.csv", text))
		require.NoError(t, err)
		for _, copied := range []string{text + "\n", crlf(text, true), crlf(text+"\n", true), crlf(text, false), crlf(text+"\n", false)} {
			requireSameLines(t, want, survey, copied)
		}
	}
}

// People count lines as their editors do: a line end within quotes ends a line too (common
// practice, no source).
func TestLinesAreCountedAsPeopleDo(t *testing.T) {
	text, faults := crlf(sheetOf(20_000, true, "é"), true), 0
	told := func(f inventory.Fault) {
		if f.Column == "dbh_in" || f.Column == "place" {
			require.Equal(t, strings.TrimPrefix(f.Value, "us/"), fmt.Sprint("x", f.Line))
			faults++
		}
	}
	for _, b := range blocksOf(t, text) {
		for _, row := range b.rows {
			if row.id != "" { // it could be read
				require.Equal(t, row.id, fmt.Sprint(row.line))
			}
			for _, f := range row.faults {
				told(f)
			}
		}
	}
	assert.Equal(t, 20_000/40*3, faults)
	survey, err := inventory.SurveyOf(write(t, "inventory.csv", text))
	require.NoError(t, err)
	for _, f := range survey.Conflicts {
		told(f)
	}
	assert.Equal(t, 20_000/40*4, faults)
}
