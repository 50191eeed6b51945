package water

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
)

// coordinates reads the coordinates of a geometry object from text that is JSON. It is
// stricter than a decoder into slices of numbers, which takes null for 0, and a
// position of one number; and several times faster.
type coordinates struct {
	text []byte
	at   int
	err  error // the first
}

var errNesting = errors.New("coordinates: are not nested as this type of geometry has them (RFC 7946, section 3.1)")

// next passes over white space and gives the next byte, and 0 after the last.
func (c *coordinates) next() byte {
	for c.at < len(c.text) {
		switch b := c.text[c.at]; b {
		case ' ', '\t', '\n', '\r':
			c.at++
		default:
			return b
		}
	}
	return 0
}

func (c *coordinates) take(b byte) bool {
	if c.err != nil || c.next() != b {
		return false
	}
	c.at++
	return true
}

// list reads a list of anything.
func (c *coordinates) list(element func()) {
	if !c.take('[') {
		c.fail(errNesting)
		return
	}
	if c.take(']') {
		return
	}
	for c.err == nil {
		element()
		if c.take(']') {
			return
		}
		if !c.take(',') {
			c.fail(errNesting)
		}
	}
}

func (c *coordinates) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}

func (c *coordinates) rings() (rings []Ring) {
	c.list(func() { rings = append(rings, c.line()) })
	return rings
}

func (c *coordinates) line() (line []Point) {
	c.list(func() { line = append(line, c.position()) })
	return line
}

// position reads a longitude, a latitude, and passes over the numbers after them.
func (c *coordinates) position() Point {
	start, n := c.at, 0
	var v [2]float64
	c.list(func() {
		number := c.number()
		if n < len(v) {
			v[n] = number
		}
		n++
	})
	if c.err == nil && n < len(v) {
		c.fail(fmt.Errorf("coordinates: position %s has %d numbers; give longitude and latitude", c.text[start:c.at], n))
	}
	return Point{Latitude: v[1], Longitude: v[0]}
}

func (c *coordinates) number() float64 {
	if c.err != nil {
		return 0
	}
	c.next()
	start := c.at
	if n := bytes.IndexAny(c.text[start:], "[], \t\r\n"); n >= 0 {
		c.at += n
	} else {
		c.at = len(c.text)
	}
	token := c.text[start:c.at]
	v, err := strconv.ParseFloat(string(token), 64)
	if err != nil {
		c.fail(fmt.Errorf("coordinates: %s is not a number in a position", clip(string(token))))
	}
	return v
}

// end gives the first fault, or that something is left.
func (c *coordinates) end() error {
	if c.err == nil && c.next() != 0 {
		c.fail(errNesting)
	}
	return c.err
}
