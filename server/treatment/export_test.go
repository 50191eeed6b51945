package treatment

import "example.org/rootward/rules/quantity"

// OneByOne makes the planner weigh the options of each stem one by one.
func (p *Planner) OneByOne() *Planner {
	p.together = 0
	return p
}

// Need is the mix that the method of a recipe asks for.
func Need(s *Settings, diameter, crown quantity.Micrometres, stems int64, r *Recipe) quantity.Microlitres {
	for _, m := range methods {
		if m.id() == r.Method {
			return m.need(s, size{diameter: diameter, crown: crown, stems: stems}, r.cutting()).mix
		}
	}
	return 0
}
