package inventory

import (
	"bytes"
	"encoding/json"
	"errors"
	"unicode/utf8"
)

// member is one member of a JSON object.
type member struct {
	name  string
	value json.RawMessage
	at    int // where the value begins in the text of the object
}

// members lists the members of a JSON text that encoding/json has found valid,
// in their order and repeated names included: encoding/json itself would join
// them and take names in any case. Its error says that the text is no object.
func members(text json.RawMessage) ([]member, error) {
	if len(text) == 0 || text[0] != '{' {
		return nil, errors.New("is not an object of names and values")
	}
	var list []member
	at := skipSpace(text, 1)
	for text[at] != '}' {
		name := text[at:skipString(text, at)]
		at = skipSpace(text, at+len(name)) + 1 // behind the colon
		at = skipSpace(text, at)
		value := text[at:skipValue(text, at)]
		list = append(list, member{name: unquote(name), value: value, at: at})
		at = skipSpace(text, at+len(value))
		if text[at] == ',' {
			at = skipSpace(text, at+1)
		}
	}
	return list, nil
}

func skipSpace(text []byte, at int) int {
	for bytes.IndexByte([]byte(" \t\r\n"), text[at]) >= 0 {
		at++
	}
	return at
}

func skipString(text []byte, at int) int {
	for at++; text[at] != '"'; at++ {
		if text[at] == '\\' {
			at++
		}
	}
	return at + 1
}

// skipValue gives the place behind a value of whatever kind.
func skipValue(text []byte, at int) int {
	for depth := 0; ; {
		switch text[at] {
		case '"':
			at = skipString(text, at)
		case '{', '[':
			depth++
			at++
		case '}', ']':
			depth--
			at++
		default:
			at++
		}
		if depth == 0 && (at == len(text) || bytes.IndexByte([]byte(",}] \t\r\n"), text[at]) >= 0) {
			return at
		}
	}
}

// unquote reads a string. One that is not UTF-8 stays as it stands, to be
// refused for that.
func unquote(text []byte) string {
	inner := text[1 : len(text)-1]
	if bytes.IndexByte(inner, '\\') < 0 || !utf8.Valid(inner) {
		return string(inner)
	}
	var s string
	if json.Unmarshal(text, &s) != nil {
		return string(inner)
	}
	return s
}
