package treatment

import (
	"encoding/binary"
	"hash/crc32"

	"example.org/rootward/rules/quantity"
)

// OneByOne makes the planner weigh the options of each stem one by one.
func (p *Planner) OneByOne() *Planner {
	p.together = 0
	return p
}

// Grants is how many combinations of reductions are kept, with options or without.
func (p *Planner) Grants() int { return len(p.grants.byGranted) }

// Need is the mix that the method of a recipe asks for.
func Need(s *Settings, diameter, crown quantity.Micrometres, stems int64, r *Recipe) quantity.Microlitres {
	for _, m := range methods {
		if m.id() == r.Method {
			return m.need(s, size{diameter: diameter, crown: crown, stems: stems}, r.cutting()).mix
		}
	}
	return 0
}

// LotOf sorts stems that are alike in all else.
var LotOf = lotOf

// Lots is how many there are.
const Lots = lots

// IsSound reports whether nothing is wrong with a stem of a known species.
func (s *Stem) IsSound() bool { return s.isSound() }

// FaultsByField is what is.
func (s *Stem) FaultsByField() []FieldFault { return s.faultsByField(nil, true) }

// WithChecksum ends a stretch of sums.
func WithChecksum(text []byte) []byte {
	return binary.LittleEndian.AppendUint32(text, crc32.Checksum(text, sumOf))
}

// Unpack reads a stretch of sums.
func Unpack(text []byte) ([]Wanted, error) {
	var t tally
	_, err := unpack(text, &t)
	var list []Wanted
	for class, ae := range t.sums.each {
		list = append(list, Wanted{class, ae})
	}
	return list, err
}

// Slender is the bound beyond which a stem is doubted.
const Slender float64 = slender

// IsDoubted reports whether the measures of a stem do not fit.
func (s *Stem) IsDoubted() bool { return s.doubt() != noDoubt }
