package rules

import "example.org/rootward/rules/civil"

func (Prohibit) judge(civil.Date, *Treatment) Decision { return Prohibited }

func (b Buffer) judge(_ civil.Date, t *Treatment) Decision {
	switch {
	case b.Activity != MixAndLoad:
		return Prohibited
	case t.NoHerbicide:
		return Allowed // nothing is mixed
	}
	return Conditional
}

func (s Setback) judge(civil.Date, *Treatment) Decision {
	if s.Hours.Stated() {
		return Undetermined // while the distance is not known
	}
	return Prohibited
}

func (w Window) judge(on civil.Date, _ *Treatment) Decision {
	if w.Open.Holds(on) {
		return Allowed
	}
	return Prohibited
}

func (InSeason) judge(civil.Date, *Treatment) Decision { return Allowed }
func (Cap) judge(civil.Date, *Treatment) Decision      { return Allowed }
func (Warn) judge(civil.Date, *Treatment) Decision     { return Allowed }

func (r RequireStanding) judge(_ civil.Date, t *Treatment) Decision {
	decision := Allowed
	if r.MaxSupervised > 0 {
		decision = Conditional
	}
	return Stricter(decision, Stricter(r.standing(t), r.category(t)))
}

func (r *RequireStanding) standing(t *Treatment) Decision {
	switch {
	case !Known(t.Standing):
		return Undetermined
	case t.Standing < r.AtLeast:
		return Prohibited
	}
	return Allowed
}

func (r *RequireStanding) category(t *Treatment) Decision {
	switch {
	case r.Categories.Empty() || r.Categories&t.Categories != 0:
		return Allowed
	case t.Categories.Empty():
		return Undetermined
	}
	return Prohibited
}

// missing names what would have to be known of the applicator.
func (r *RequireStanding) missing(t *Treatment) []string {
	var names []string
	if !Known(t.Standing) {
		names = append(names, "standing of the applicator")
	}
	if r.category(t) == Undetermined {
		names = append(names, "categories of the applicator's certification")
	}
	return names
}

func (Permit) judge(civil.Date, *Treatment) Decision        { return Conditional }
func (Notice) judge(civil.Date, *Treatment) Decision        { return Conditional }
func (Posting) judge(civil.Date, *Treatment) Decision       { return Conditional }
func (WeatherLimit) judge(civil.Date, *Treatment) Decision  { return Conditional }
func (Record) judge(civil.Date, *Treatment) Decision        { return Conditional }
func (DailyHours) judge(civil.Date, *Treatment) Decision    { return Conditional }
func (UseThreshold) judge(civil.Date, *Treatment) Decision  { return Conditional }
func (Lookup) judge(civil.Date, *Treatment) Decision        { return Conditional }
func (Computed) judge(civil.Date, *Treatment) Decision      { return Undetermined }
func (EntryInterval) judge(civil.Date, *Treatment) Decision { return Conditional }

func (e ExclusionZone) judge(civil.Date, *Treatment) Decision {
	if e.Radius == 0 {
		return Allowed
	}
	return Conditional
}
