package recordlog

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// MaxLine bounds an entry in bytes: more is never read, and nothing longer is written.
const MaxLine = 16 << 20

// Entry is one line of the log: one version of one thing that is kept. It is never
// changed.
type Entry struct {
	Number  int64  // from 0, without gaps
	Name    string // of the thing, "sites/a/records/b"
	Kind    string // what it is: "site", "survey", "plan", "record", "visit"
	Site    string // name of the site that it belongs to; empty for a plan
	Version int64  // of the thing, from 1, without gaps
	Request string // the caller's id of the write
	Digest  [32]byte
	Time    time.Time // when it was appended, whole microseconds
	Body    []byte    // a JSON object on one line; it is kept and hashed byte for byte
}

// timeForm has six decimals, always.
const timeForm = "2006-01-02T15:04:05.000000Z"

// Line gives the entry as it is hashed: the same bytes for the same entry, and other
// bytes for any other. An entry that cannot be written so is an error.
func (e *Entry) Line() ([]byte, error) {
	if err := e.check(); err != nil {
		return nil, fmt.Errorf("entry %d, %.200q: %w", e.Number, e.Name, err)
	}
	var b bytes.Buffer
	b.Grow(len(e.Body) + 400)
	fmt.Fprintf(&b, `{"number":%d,"name":%s,"kind":%s,"site":%s,"version":%d,"request":%s,"digest":"%x","time":"%s","body":`,
		e.Number, quoted(e.Name), quoted(e.Kind), quoted(e.Site), e.Version, quoted(e.Request), e.Digest, e.Time.UTC().Format(timeForm))
	b.Write(e.Body)
	b.WriteByte('}')
	if b.Len() > MaxLine {
		return nil, fmt.Errorf("entry %d, %s: it has %d bytes, at most %d can be: split what it holds", e.Number, e.Name, b.Len(), MaxLine)
	}
	return b.Bytes(), nil
}

func (e *Entry) check() error {
	for field, s := range map[string]string{"name": e.Name, "kind": e.Kind, "site": e.Site, "request": e.Request} {
		if !utf8.ValidString(s) || strings.ContainsFunc(s, func(c rune) bool { return c < ' ' }) {
			return fmt.Errorf("its %s is not UTF-8, or has control characters", field)
		}
	}
	switch {
	case e.Name == "" || e.Kind == "" || e.Request == "":
		return errors.New("name, kind and request must be there")
	case e.Number < 0 || e.Version < 1:
		return fmt.Errorf("number %d or version %d is too small: numbers are from 0, versions from 1", e.Number, e.Version)
	case !e.Time.Equal(e.Time.Truncate(time.Microsecond)) || e.Time.Year() < 1 || e.Time.Year() > 9999:
		return errors.New("its time is not in whole microseconds of the years 1 to 9999")
	case bytes.ContainsAny(e.Body, "\n\r") || !json.Valid(e.Body) || e.Body[0] != '{' || e.Body[len(e.Body)-1] != '}':
		return errors.New("its body is not a JSON object on one line, without space around it")
	}
	return nil
}

func quoted(s string) []byte {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err) // a string always can
	}
	return b
}

// ParseLine reads what Line writes, and nothing else.
func ParseLine(line []byte) (*Entry, error) {
	if len(line) > MaxLine {
		return nil, fmt.Errorf("it has more than %d bytes", MaxLine)
	}
	var w struct {
		Number                    int64
		Name, Kind, Site, Request string
		Version                   int64
		Digest, Time              string
		Body                      json.RawMessage
	}
	if err := json.Unmarshal(line, &w); err != nil {
		return nil, fmt.Errorf("it is not an entry of a log: %w", err)
	}
	at, err := time.Parse(timeForm, w.Time)
	if err != nil {
		return nil, fmt.Errorf("it is not an entry of a log: time %.40q is not of the form %s", w.Time, timeForm)
	}
	e := &Entry{Number: w.Number, Name: w.Name, Kind: w.Kind, Site: w.Site, Version: w.Version, Request: w.Request, Time: at.UTC(), Body: w.Body}
	if sum, err := hex.DecodeString(w.Digest); err != nil || copy(e.Digest[:], sum) != len(e.Digest) || len(sum) != len(e.Digest) {
		return nil, fmt.Errorf("it is not an entry of a log: digest %.80q is not 64 hexadecimal digits", w.Digest)
	}
	again, err := e.Line()
	if err != nil {
		return nil, err
	}
	if !bytes.Equal(again, line) {
		return nil, errors.New("it is not written as the log writes entries: it came from elsewhere, or was edited")
	}
	return e, nil
}
