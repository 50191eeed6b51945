package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// background is what is known of a species on a day, whatever the stem.
type background struct {
	species   *Species
	season    rules.Season
	hasSeason bool
}

// calendar is what is known of a species, a day after the other from the planner's on.
type calendar struct {
	days    []background // species is nil where nobody asked yet
	growing map[int]civil.Date
}

func (p *Planner) calendar(species string) *calendar {
	c := p.calendars[species]
	if c == nil {
		c = &calendar{growing: map[int]civil.Date{}}
		p.calendars[species] = c
	}
	return c
}

// about gives what is known of a species of the catalogue on a day from the planner's on.
func (p *Planner) about(species string, on civil.Date) background {
	c, at := p.calendar(species), int(on-p.governing.On)
	for at >= len(c.days) {
		c.days = append(c.days, background{})
	}
	if c.days[at].species == nil {
		b := background{species: p.catalogue.species(species)}
		b.season, b.hasSeason = p.governing.SeasonOn(on, species)
		c.days[at] = b
	}
	return c.days[at]
}

// growingIn is the first day of leaf in a calendar year; no date if there is none.
func (p *Planner) growingIn(year int, species string) civil.Date {
	c := p.calendar(species)
	first, known := c.growing[year]
	if known {
		return first
	}
	for day := civil.Of(year, 1, 1); day < civil.Of(year+1, 1, 1); day++ {
		if b := p.about(species, day); b.hasSeason && b.season == rules.Growing {
			first = day
			break
		}
	}
	c.growing[year] = first
	return first
}

func (p *Planner) ask(stem *Stem, on civil.Date) question {
	b := p.about(stem.Species, on)
	return b.question(stem, p.settings)
}

func (b *background) question(stem *Stem, settings *Settings) question {
	return question{stem: stem, traits: traits{
		species: b.species, settings: settings, season: b.season, hasSeason: b.hasSeason,
		form: stem.Form, desirable: stem.Desirable, soil: stem.Soil, bark: stem.Bark, rootCheck: stem.RootCheck,
		dense: stem.isDense(), diameter: gauge{um: stem.Diameter}, height: gauge{um: stem.Height},
	}}
}

// kind is a species on the day of the planner, with its options.
type kind struct {
	background
	slates []*slate // by land use; nil where none was asked for
}

// kinds are the species that were asked for.
type kinds struct {
	byName map[string]*kind
	recent [32]recentKind // one takes the place of another
	slates []*slate       // of all of them, each once
}

// recentKind is found without a hash: an inventory has few species, and rows that follow
// each other have the very same text of their names.
type recentKind struct {
	name string
	kind *kind
}

func (l *kinds) of(species string) *kind {
	if len(species) == 0 {
		return nil
	}
	r := &l.recent[(len(species)+int(species[0])+5*int(species[len(species)-1]))%len(l.recent)]
	if r.name != species {
		k := l.byName[species]
		if k == nil {
			return nil
		}
		r.kind = k
	}
	r.name = species // which the next row's is at a glance, if it is the very same text
	return r.kind
}

func (l *kinds) add(k *kind) {
	if l.byName == nil {
		l.byName = map[string]*kind{}
	}
	l.byName[k.species.Name] = k
}

// kind gives what is known of a species; nil if the catalogue has none of the name.
func (p *Planner) kind(species string) *kind {
	if k := p.kinds.of(species); k != nil {
		return k
	}
	if p.catalogue.species(species) == nil {
		return nil // not kept: rows may hold any number of names
	}
	k := &kind{background: p.about(species, p.governing.On)}
	if len(p.kinds.byName) == 0 {
		p.grants.fill(p.kinds)
	}
	p.kinds.add(k)
	return k
}

// slate gives the options for a species on a land use.
func (p *Planner) slate(k *kind, use rules.LandUse) *slate {
	for int(use) >= len(k.slates) {
		k.slates = append(k.slates, nil)
	}
	if k.slates[use] == nil {
		k.slates[use] = p.newSlate(k.species, use)
	}
	return k.slates[use]
}

// newSlate makes a slate, or finds one that serves as well.
func (p *Planner) newSlate(species *Species, use rules.LandUse) *slate {
	options := p.newOptions(species, use)
	if p.governing.SeasonsAlike() {
		for _, s := range p.kinds.slates {
			if s.isLike(species, use, options) {
				return s
			}
		}
	}
	s := newSlate(options, species, use, p.together)
	p.kinds.slates = append(p.kinds.slates, s)
	return s
}

// optionsFor lists the options for a stem without faults.
func (p *Planner) optionsFor(stem *Stem) []option {
	return p.slate(p.kind(stem.Species), stem.LandUse).options
}

// suckers reports whether the species answers from its roots at all.
func (s *Species) suckers() bool { return s.Suckering >= rules.SuckeringModerate }

// asking is the question of a stem for the day of the planner, until the next one.
func (p *Planner) asking(k *kind, stem *Stem) *question {
	p.work.asked = k.question(stem, p.settings)
	p.work.site = stem.surroundings()
	return &p.work.asked
}
