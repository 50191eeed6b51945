package inventory

import (
	"bytes"
	"slices"
)

// siteLines passes over lines of which nothing is wanted but what they say of their
// site, where that is known already.
type siteLines struct {
	columns []*Column
	ends    []int32 // of the fields of a line
	first   int     // field that says something of a site
	last    int     // and the last one
	near    []byte  // what the line before says from the first to the last; empty: not known
	key     []byte
	whole   bool // the key is that of a line
	known   knownSites
}

func newSiteLines(columns []*Column) *siteLines {
	s := &siteLines{columns: columns, ends: make([]int32, len(columns))}
	s.first = slices.IndexFunc(columns, isSite)
	for i, c := range columns {
		if isSite(c) {
			s.last = i
		}
	}
	return s
}

func isSite(c *Column) bool { return c != nil && c.site }

// pass goes on to the next line that has to be read carefully, and counts the rows
// that it passes over. Of a line without quotes whose site is that of the line before
// nothing else is looked at: a line that is not to be understood says nothing new of a
// site either.
func (s *siteLines) pass(l *lines) (rows int64) {
	s.whole = false
	l.each(func(line []byte) bool {
		s.whole = false
		if len(line) > longest || !s.isNear(line) && !s.isKnown(line) {
			return false
		}
		rows++
		return true
	})
	return rows
}

// isNear tells a line that says of its site, letter by letter, what the one before does.
func (s *siteLines) isNear(line []byte) bool {
	if len(s.near) == 0 || bytes.IndexByte(line, '"') >= 0 {
		return false
	}
	at := 0
	for range s.first {
		comma := bytes.IndexByte(line[at:], ',')
		if comma < 0 {
			return false
		}
		at += comma + 1
	}
	about := line[at:]
	return bytes.HasPrefix(about, s.near) && (len(about) == len(s.near) || about[len(s.near)] == ',')
}

// isKnown tells a line whose site is known, and remembers what it says.
func (s *siteLines) isKnown(line []byte) bool {
	s.near = s.near[:0]
	if !s.cut(line) {
		return false
	}
	s.state(line)
	if s.known.find(s.key) == nil {
		return false
	}
	from := int32(0)
	if s.first > 0 {
		from = s.ends[s.first-1] + 1
	}
	if about := line[from:s.ends[s.last]]; bytes.IndexByte(about, '"') < 0 {
		s.near = append(s.near, about...)
	}
	return true
}

// cut finds the ends of the fields up to the last one that is of a site.
func (s *siteLines) cut(line []byte) bool {
	if bytes.IndexByte(line, '"') >= 0 {
		return splitQuoted(line, s.ends)
	}
	if bytes.Count(line, []byte{','}) != len(s.ends)-1 {
		return false
	}
	at := 0
	for i := range s.last + 1 {
		end := bytes.IndexByte(line[at:], ',')
		if end < 0 {
			end = len(line) - at
		}
		s.ends[i] = int32(at + end)
		at += end + 1
	}
	return true
}

// state makes the key of the line's site.
func (s *siteLines) state(line []byte) {
	s.key, s.whole = s.key[:0], true
	from := int32(0)
	for i, end := range s.ends[:s.last+1] {
		if c := s.columns[i]; c != nil && c.site && from < end {
			s.key = appendKey(s.key, i, unquoted(line[from:end]))
		}
		from = end + 1
	}
}

// learn remembers how a row states its site, if nothing is wrong with that.
func (s *siteLines) learn(r *row) {
	if s.whole && len(r.Faults) == 0 && r.SiteID != "" && r.Place != "" {
		s.known.learn(s.key, r.SiteID, r.Place)
	}
}
