package schema

import (
	"bufio"
	"os"
	"regexp"
	"strings"
)

// Comments are the comments of .proto files, by "Message", "Message.field",
// "Enum" and "Enum.VALUE".
type Comments map[string]string

// ReadComments reads the comments of the files. It knows the form in which buf
// formats them: one declaration a line, its comment on the lines above.
func ReadComments(files ...string) (Comments, error) {
	c := Comments{}
	for _, file := range files {
		if err := c.read(file); err != nil {
			return nil, err
		}
	}
	return c, nil
}

var (
	opened   = regexp.MustCompile(`^\s*(message|enum|oneof) (\w+) \{(\})?`)
	declared = regexp.MustCompile(`^\s*(?:(?:repeated |optional )?[\w.]+ )?(\w+) = \d+;`)
)

func (c Comments) read(file string) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	var comment []string
	name := ""
	for lines := bufio.NewScanner(f); lines.Scan(); {
		line := lines.Text()
		if text, is := strings.CutPrefix(strings.TrimSpace(line), "//"); is {
			comment = append(comment, strings.TrimSpace(text))
			continue
		}
		text := strings.Join(comment, " ")
		comment = nil
		if o := opened.FindStringSubmatch(line); o != nil && o[1] != "oneof" {
			name = o[2]
			c[name] = text
		} else if d := declared.FindStringSubmatch(line); d != nil {
			c[name+"."+d[1]] = text
		}
	}
	return nil
}

// required reports whether a comment says that the field must be stated.
func required(comment string) bool { return strings.HasPrefix(comment, "Required.") }

// inOwnUnit takes the contract's units out of a comment, for in a text a value has
// its own unit.
var inOwnUnit = strings.NewReplacer(
	"Required. ", "", "Optional. ", "",
	" in micrometres", "", " in square millimetres", "", "so many micrometres", "this distance",
	"Micrograms of acid equivalent per acre", "Acid equivalent per area",
	"; its name holds the unit", "", ", in the measure's unit", "", " in the measure's unit", "",
)

func (c Comments) description(name string) string { return inOwnUnit.Replace(c[name]) }
