package inventory

import "bytes"

// siteLines passes over lines of which nothing is wanted but what they say of their
// site, where that is known already.
type siteLines struct {
	columns []*Column
	ends    []int // of the fields of a line
	last    int   // field that says something of a site
	key     []byte
	whole   bool // the key is that of a line
	known   knownSites
}

func newSiteLines(columns []*Column) *siteLines {
	s := &siteLines{columns: columns, ends: make([]int, len(columns))}
	for i, c := range columns {
		if c != nil && c.site {
			s.last = i
		}
	}
	return s
}

// pass goes on to the next line that has to be read carefully, and counts the rows
// that it passes over.
func (s *siteLines) pass(l *lines) (rows int64) {
	for ; ; rows++ {
		s.whole = false
		line, taken := l.plain()
		if taken == 0 || len(line) > longest || !s.cut(line) {
			return rows
		}
		s.state(line)
		if s.known.find(s.key) == nil {
			return rows
		}
		l.takeLine(taken)
	}
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
		s.ends[i] = at + end
		at += end + 1
	}
	return true
}

// state makes the key of the line's site.
func (s *siteLines) state(line []byte) {
	s.key, s.whole = s.key[:0], true
	from := 0
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
