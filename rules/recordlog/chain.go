package recordlog

import "fmt"

// Chain checks that entries follow one another as the log writes them. Its zero value
// stands before the first entry.
type Chain struct {
	next     int64
	things   map[string]thing
	requests map[string]int64 // the entry that each made
}

type thing struct {
	version    int64
	kind, site string
}

// Next takes the next entry, and gives what is wrong with it there.
func (c *Chain) Next(e *Entry) []string {
	if c.things == nil {
		c.things, c.requests = map[string]thing{}, map[string]int64{}
	}
	var wrong []string
	note := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }
	if e.Number != c.next {
		note("it has number %d, and %d is due", e.Number, c.next)
	}
	c.next++
	before, there := c.things[e.Name]
	if e.Version != before.version+1 {
		note("it is version %d of %s, and %d is due", e.Version, e.Name, before.version+1)
	}
	if there && (before.kind != e.Kind || before.site != e.Site) {
		note("%s was a %s of %q before, and is a %s of %q here", e.Name, before.kind, before.site, e.Kind, e.Site)
	}
	c.things[e.Name] = thing{e.Version, e.Kind, e.Site}
	if first, used := c.requests[e.Request]; used {
		note("its request %s has made entry %d already", e.Request, first)
	} else {
		c.requests[e.Request] = e.Number
	}
	return wrong
}
