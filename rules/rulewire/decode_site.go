package rulewire

import (
	"fmt"

	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

func (r *reader) treatment(path string, p *pb.Treatment) rules.Treatment {
	at := func(field string) string { return join(path, field) }
	if p.GetReleaseHeightUm() < 0 {
		r.add(at("release_height_um"), "%d is below zero", p.GetReleaseHeightUm())
	}
	return rules.Treatment{
		Species:       p.GetSpecies(),
		Suckering:     word[rules.Suckering](r, at("suckering"), p.GetSuckering()),
		Method:        word[rules.Method](r, at("method"), p.GetMethod()),
		Equipment:     word[rules.Equipment](r, at("equipment"), p.GetEquipment()),
		Active:        p.GetActive(),
		Formulation:   word[rules.FormulationKind](r, at("formulation"), p.GetFormulation()),
		SoilActivity:  word[rules.SoilActivity](r, at("soil_activity"), p.GetSoilActivity()),
		AquaticLabel:  word[rules.AquaticLabel](r, at("aquatic_label"), p.GetAquaticLabel()),
		RestrictedUse: word[rules.RestrictedUse](r, at("restricted_use"), p.GetRestrictedUse()),
		Toxicity:      word[rules.ToxicityCategory](r, at("toxicity"), p.GetToxicity()),
		Droplet:       word[rules.Droplet](r, at("droplet"), p.GetDroplet()),
		ReleaseHeight: quantity.Micrometres(p.GetReleaseHeightUm()),
		LandUse:       word[rules.LandUse](r, at("land_use"), p.GetLandUse()),
		Standing:      word[rules.Standing](r, at("standing"), p.GetStanding()),
		NoHerbicide:   p.GetNoHerbicide(),
	}
}

func (r *reader) surroundings(path string, p *pb.Surroundings) rules.Surroundings {
	at := func(field string) string { return join(path, field) }
	return rules.Surroundings{
		Form:      word[rules.GrowthForm](r, at("form"), p.GetForm()),
		Soil:      word[rules.SoilState](r, at("soil"), p.GetSoil()),
		Bark:      word[rules.BarkState](r, at("bark"), p.GetBark()),
		Desirable: word[rules.Desirable](r, at("desirable"), p.GetDesirable()),
		Measures:  r.measures(at("measures"), p.GetMeasures()),
		Water:     r.waters(at("water"), p.GetWater()),
	}
}

func (r *reader) measures(path string, list []*pb.Measured) rules.Measures {
	var m rules.Measures
	for i, p := range list {
		at := fmt.Sprintf("%s[%d]", path, i)
		q := stated[rules.Measure](r, at+".measure", p.GetMeasure())
		if q == 0 {
			continue
		}
		if _, twice := m.Get(q); twice {
			r.add(at, "%s is stated twice", q)
		}
		m.Set(q, p.GetValue())
	}
	return m
}

func (r *reader) waters(path string, list []*pb.MeasuredWater) rules.Waters {
	var w rules.Waters
	for i, p := range list {
		at := fmt.Sprintf("%s[%d]", path, i)
		c := stated[rules.WaterClass](r, at+".water_class", p.GetWaterClass())
		if c == 0 {
			continue
		}
		if _, twice := w.Get(c); twice {
			r.add(at, "the distance to %s is stated twice", c)
		}
		if p.GetDistanceUm() < 0 {
			r.add(at+".distance_um", "%d is below zero", p.GetDistanceUm())
		}
		w.Set(c, rules.WaterDistance{
			Distance: quantity.Micrometres(p.GetDistanceUm()),
			Origin:   word[rules.DistanceOrigin](r, at+".origin", p.GetOrigin()),
			AtLeast:  p.GetAtLeast(),
		})
	}
	return w
}

// stated reads one word that may not be left out; zero says that it was not read.
func stated[V rules.Vocabulary, E ~int32](r *reader, field string, e E) V {
	v := word[V](r, field, e)
	if e == 0 {
		r.add(field, "is not stated")
	}
	if !rules.Known(v) {
		return 0
	}
	return v
}
