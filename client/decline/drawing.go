package decline

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"example.org/rootward/client/page"
)

// Colours for white paper; what one tells, a shape tells too.
const (
	ink      = "#1a1a1a"
	faint    = "#6b6b6b"
	hair     = "#d9d9d9"
	seen     = "#0b5394"
	hoped    = "#8a4b00"
	hopeFill = "#f6e3c8"
	alarm    = "#a3002a"
	ground   = "#e4eee0"
	edge     = "#2f5d1e"
)

// drawing is an SVG file in the making.
type drawing struct{ bytes.Buffer }

// newDrawing begins a file with what it shows in words, for those who do not see it.
func newDrawing(width, height int, title, description string) *drawing {
	d := &drawing{}
	fmt.Fprintf(d, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="img" aria-labelledby="title desc" font-family="sans-serif" font-size="12" fill="%s">`+"\n", width, height, width, height, ink)
	fmt.Fprintf(d, "<title id=\"title\">%s</title>\n<desc id=\"desc\">%s</desc>\n", escaped(title), escaped(description))
	fmt.Fprintf(d, "<rect width=\"%d\" height=\"%d\" fill=\"#ffffff\"/>\n", width, height)
	return d
}

func (d *drawing) end(w io.Writer) error {
	d.WriteString("</svg>\n")
	_, err := d.WriteTo(w)
	return err
}

// escaped makes any text fit for XML.
func escaped(s string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(page.Clean(s))) // a Builder never fails
	return b.String()
}

// at writes a coordinate to a tenth.
func at(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', -1, 64) }

type place struct{ x, y float64 }

func (d *drawing) line(a, b place, style string) {
	fmt.Fprintf(d, "<line x1=\"%s\" y1=\"%s\" x2=\"%s\" y2=\"%s\" %s/>\n", at(a.x), at(a.y), at(b.x), at(b.y), style)
}

// text writes words; anchor is start, middle or end.
func (d *drawing) text(p place, anchor, style, words string) {
	fmt.Fprintf(d, "<text x=\"%s\" y=\"%s\" text-anchor=\"%s\"%s>%s</text>\n", at(p.x), at(p.y), anchor, spaced(style), escaped(words))
}

func spaced(style string) string {
	if style == "" {
		return ""
	}
	return " " + style
}

// path draws a line through places.
func (d *drawing) path(places []place, style string) {
	fmt.Fprintf(d, "<path d=\"%s\" %s/>\n", through(places), style)
}

func through(places []place) string {
	var b strings.Builder
	for i, p := range places {
		command := "L"
		if i == 0 {
			command = "M"
		}
		b.WriteString(command + at(p.x) + " " + at(p.y))
	}
	return b.String()
}

// mark is a small shape that stands for something.
type mark uint8

const (
	dot     mark = iota // a full count
	ring                // a part was counted
	cross               // nobody looked enough
	arrow               // treated
	box                 // expected
	diamond             // found alive
	square              // dead, or felled
)

func (d *drawing) mark(m mark, p place) {
	x, y := p.x, p.y
	switch m {
	case dot:
		fmt.Fprintf(d, "<circle cx=\"%s\" cy=\"%s\" r=\"4\" fill=\"%s\"/>\n", at(x), at(y), seen)
	case ring:
		fmt.Fprintf(d, "<circle cx=\"%s\" cy=\"%s\" r=\"4\" fill=\"#ffffff\" stroke=\"%s\" stroke-width=\"1.5\"/>\n", at(x), at(y), seen)
	case cross:
		d.line(place{x - 4, y - 4}, place{x + 4, y + 4}, stroke(alarm, 2))
		d.line(place{x - 4, y + 4}, place{x + 4, y - 4}, stroke(alarm, 2))
	case arrow:
		fmt.Fprintf(d, "<path d=\"%sZ\" fill=\"%s\"/>\n", through([]place{{x - 5, y - 8}, {x + 5, y - 8}, {x, y}}), ink)
	case box:
		d.band(place{x, y - 5}, 10)
	case diamond:
		fmt.Fprintf(d, "<path d=\"%sZ\" fill=\"%s\" stroke=\"#ffffff\"/>\n", through([]place{{x, y - 6}, {x + 6, y}, {x, y + 6}, {x - 6, y}}), alarm)
	case square:
		fmt.Fprintf(d, "<rect x=\"%s\" y=\"%s\" width=\"5\" height=\"5\" fill=\"#ffffff\" stroke=\"%s\"/>\n", at(x-2.5), at(y-2.5), ink)
	}
}

// band draws what is expected: from a place downwards.
func (d *drawing) band(top place, height float64) {
	const width = 14
	fmt.Fprintf(d, "<rect x=\"%s\" y=\"%s\" width=\"%d\" height=\"%s\" fill=\"%s\" %s/>\n", at(top.x-width/2), at(top.y), width, at(max(height, 1)), hopeFill, dashed)
}

var dashed = stroke(hoped, 1) + ` stroke-dasharray="4 2"`

func stroke(colour string, width float64) string {
	return fmt.Sprintf("stroke=\"%s\" stroke-width=\"%s\"", colour, at(width))
}

// legend explains marks, in rows.
func (d *drawing) legend(left, top, width float64, entries []entry) {
	x, y := left, top
	for _, e := range entries {
		long := 20 + 6.6*float64(len([]rune(e.words)))
		if x > left && x+long > left+width {
			x, y = left, y+18
		}
		lift := 4.0
		if e.mark == arrow {
			lift = 0 // it points at its place
		}
		d.mark(e.mark, place{x + 7, y - lift})
		d.text(place{x + 20, y}, "start", "", e.words)
		x += long + 14
	}
}

type entry struct {
	mark  mark
	words string
}
