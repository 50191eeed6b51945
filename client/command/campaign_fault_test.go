package command_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A description that cannot be read is told by the line in which its writer finds the fault,
// and with what to write instead.
func TestAFaultOfADescriptionIsToldWhereItStands(t *testing.T) {
	site, survey, visit, record := []string{"sites", "add", "s"}, []string{"surveys", "add", "sites/s", "one"}, []string{"visits", "add", "sites/s", "one"}, []string{"records", "add", "sites/s", "one"}
	for name, c := range map[string]struct {
		command []string
		text    string
		want    string
	}{
		"field":                {site, "title: Bank\nplace: us/velmora\n# the ground\narea_m22: 5000\n", `.yaml, line 4, column 1: "area_m22" is not a field here: write one of name, version,`},
		"JSON name":            {site, "areaM2: 5000\nlatitudeDegg: 1\n", `line 2, column 1: "latitudeDegg" is not a field here`},
		"date":                 {survey, "notes: dry\ndate: 2026-11-20\n", "line 2, column 7: date is a date by its parts: write {year: 2026, month: 7, day: 20}"},
		"word":                 {visit, "kind: INSPECTION\n", `line 1, column 7: kind: "INSPECTION" is not one of its words: write VISIT_KIND_INSPECTION, VISIT_KIND_FELLING`},
		"number":               {site, "place: us/velmora\narea_m2: five\n", `line 2, column 10: area_m2: "five" is not a number`},
		"text":                 {record, "plan: plans/x\nlot_number: 31\n", `line 2, column 13: lot_number is text: put it in quotes, as "31"`},
		"in a list":            {visit, "found:\n- kind: FIND_KIND_MISSED_STEM\n  stem: {stem_id: a}\n- kind: SUCKER\n", `line 4, column 9: kind: "SUCKER" is not one of its words`},
		"no list":              {visit, "observers: R. Example\n", "line 1, column 12: observers is a list"},
		"no value":             {site, "area_m2: {acres: 2}\n", "area_m2 is one value"},
		"time":                 {record, "start_time: yesterday\n", "line 1, column 13: start_time is a time with its distance from UTC"},
		"weather":              {record, "start_weather: {}\nend_weather: windy\n", "line 2, column 14: end_weather has fields of its own: write end_weather: {time: ...}"},
		"answer":               {visit, "counted_all: sometimes\n", `counted_all: "sometimes" is not true or false`},
		"whole":                {survey, "date: {year: 2026.5, month: 7, day: 1}\n", "line 1, column 14: year: 2026.5 is not a whole number"},
		"above 32 bits":        {survey, "date: {year: 99999999999, month: 7, day: 1}\n", "line 1, column 14: year: 99999999999 is out of range: write a whole number from -2147483648 to 2147483647"},
		"below 32 bits":        {survey, "date: {year: -2147483649, month: 7, day: 1}\n", "year: -2147483649 is out of range"},
		"within 32 bits":       {survey, "date: {year: -2147483648, month: 2147483647, day: one}\n", `day: "one" is not a number`},
		"above 64 bits":        {survey, "stems:\n- count: 9223372036854775808\n", "line 2, column 10: count: 9223372036854775808 is out of range: write a whole number from -9223372036854775808 to 9223372036854775807"},
		"within 64 bits":       {survey, "stems:\n- count: 9223372036854775807\n- count: all\n", `line 3, column 10: count: "all" is not a number`},
		"above all":            {survey, "stems:\n- count: 1e400\n", "count: 1e400 is out of range"},
		"infinite":             {site, "area_m2: .inf\n", "line 1, column 10: area_m2: +Inf is too large a number"},
		"too large":            {site, "area_m2: 1e400\n", "line 1, column 10: area_m2: 1e400 is too large a number"},
		"not a number":         {site, "area_m2: .nan\n", `line 1, column 10: area_m2: "NaN" is not a number`},
		"unseen":               {survey, "date: {year: &y 99999999999, month: 7, day: 1}\n", ".yaml: invalid value for int32"},
		"JSON itself":          {site, "{\n  \"place\": \"us/velmora\",\n  \"area\": 5000\n}\n", `line 3, column 3: "area" is not a field here`},
		"second document":      {survey, "date: {year: 2026, month: 7, day: 1}\n---\nstems: []\n", ".yaml, line 2: a second document begins: write one in a file"},
		"behind the end":       {visit, "notes: dry\n...\nfound: []\n", "line 3: a second document begins"},
		"behind an empty end":  {record, "plan: plans/x\n---\n# none\n---\nlot_number: a\n", "line 2: a second document begins"},
		"behind nothing":       {record, "---\n---\nplan: plans/x\n", ".yaml holds no fields: write lines of the form"},
		"behind a directive":   {site, "%YAML 1.2\n---\nplace: us/velmora\narea: 1\n", `line 4, column 1: "area" is not a field here`},
		"dashes within a text": {site, "title: |\n  one\n  ---\n  two\narea: 1\n", `line 5, column 1: "area" is not a field here`},
		"merged":               {survey, "stems:\n- &a {stem_id: a, height_m: 3}\n- <<: *a\n  stem_id: b\n- height_m: tall\n", `line 5, column 13: height_m: "tall" is not a number`},
		"within merged":        {survey, "stems:\n- <<: {stem_id: a, hight_m: 3}\n", `line 2, column 20: "hight_m" is not a field here`},
		"twice":                {site, "place: us/velmora\narea_m2: 1\nareaM2: 2\n", "area"},
	} {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "one.yaml")
			require.NoError(t, os.WriteFile(file, []byte(c.text), 0o600))
			got := direct(t, append(c.command, "--file", file, "--server", "127.0.0.1:1")...)
			assert.Equal(t, 2, got.code)
			contains(t, got.stderr, c.want)
			assert.NotContains(t, got.stderr, "(line", "of what the file was converted to")
		})
	}
}
