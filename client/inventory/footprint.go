package inventory

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
)

// footprint is the outline of a patch in a table, as Darwin Core has it.
var footprint = []*Column{
	{
		Name: "footprintWKT", Type: "POLYGON or MULTIPOLYGON", Unit: "degrees, WGS 84", Term: darwinCore,
		Meaning: "outline of a patch in well-known text, longitude before latitude, held to what holds for a GeoJSON outline; distances to water are computed from its nearest point",
		read:    readFootprint,
	},
	among(Column{Name: "footprintSRS", Term: darwinCore, Meaning: "reference system of footprintWKT; no other is read"}, "EPSG:4326", "OGC:CRS84"),
}

func readFootprint(r *row, text string) error {
	list, err := geoJSONOf(text)
	if err != nil {
		return err
	}
	g, problem := parseGeometry(list, &r.seen)
	if problem != "" {
		return errors.New(problem)
	}
	r.footprint = g
	return nil
}

// outline is where a patch lies: a feature's geometry, or the footprint of a row.
func (r *row) outline(g *geometry) *geometry {
	if g != nil && r.footprint != nil {
		r.fault(r.Line, "footprintWKT", "", "the feature has a geometry; keep one of the two")
	}
	if g != nil {
		return g
	}
	return r.footprint
}

// geoJSONOf writes well-known text (OGC 06-103r4, section 7.2) as the geometry of RFC
// 7946 that it is: positions are lists, and parentheses brackets.
func geoJSONOf(text string) (json.RawMessage, error) {
	open := strings.IndexByte(text, '(')
	if open < 0 {
		return nil, errors.New("is not well-known text; write POLYGON ((10 43, 10.1 43, 10.1 43.1, 10 43)), longitude before latitude")
	}
	kind := map[string]string{"POLYGON": "Polygon", "MULTIPOLYGON": "MultiPolygon"}[strings.ToUpper(strings.TrimSpace(text[:open]))]
	if kind == "" {
		return nil, fmt.Errorf("the type %q is not read; a patch is a POLYGON or a MULTIPOLYGON", shorten(strings.TrimSpace(text[:open])))
	}
	var out strings.Builder
	fmt.Fprintf(&out, `{"type":%q,"coordinates":`, kind)
	if err := brackets(&out, text[open:]); err != nil {
		return nil, err
	}
	out.WriteByte('}')
	if !json.Valid([]byte(out.String())) {
		return nil, errors.New("has parentheses or commas where none can be; write POLYGON ((10 43, 10.1 43, 10.1 43.1, 10 43))")
	}
	return json.RawMessage(out.String()), nil
}

// brackets writes lists of positions in parentheses as lists of lists.
func brackets(out *strings.Builder, text string) error {
	for len(text) > 0 {
		end := strings.IndexAny(text, "(),")
		if end < 0 {
			end = len(text)
		}
		if numbers := strings.Fields(text[:end]); len(numbers) > 0 {
			if len(numbers) != 2 {
				return fmt.Errorf("%q is not a position of two numbers, longitude and latitude", shorten(strings.TrimSpace(text[:end])))
			}
			for _, n := range numbers {
				if !isPlainDecimal(n) {
					return fmt.Errorf("%q: %w", shorten(n), decimalSlip(n))
				}
			}
			fmt.Fprintf(out, "[%s,%s]", literal(numbers[0]), literal(numbers[1]))
		}
		if end < len(text) {
			out.WriteByte(map[byte]byte{'(': '[', ')': ']', ',': ','}[text[end]])
			end++
		}
		text = text[end:]
	}
	return nil
}

// literal writes a plain decimal as JSON has it, with all its decimals.
func literal(number string) string {
	digits := strings.TrimPrefix(number, "+")
	sign := ""
	if rest, negative := strings.CutPrefix(digits, "-"); negative {
		sign, digits = "-", rest
	}
	whole, decimals, _ := strings.Cut(digits, ".")
	whole = strings.TrimLeft(whole, "0")
	if whole == "" {
		whole = "0"
	}
	if decimals == "" {
		return sign + whole
	}
	return sign + whole + "." + decimals
}
