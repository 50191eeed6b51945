package rulewire

import (
	"fmt"

	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

func (r *reader) treatment(path string, p *pb.Treatment) rules.Treatment {
	at := func(field string) string { return join(path, field) }
	r.notBelowZero(at("release_height_um"), p.GetReleaseHeightUm())
	r.notBelowZero(at("carrier_ml_per_ha"), p.GetCarrierMlPerHa())
	r.notBelowZero(at("dose_permille"), p.GetDosePermille())
	return rules.Treatment{
		Species:        p.GetSpecies(),
		Suckering:      word[rules.Suckering](r, at("suckering"), p.GetSuckering()),
		Method:         word[rules.Method](r, at("method"), p.GetMethod()),
		Equipment:      word[rules.Equipment](r, at("equipment"), p.GetEquipment()),
		Active:         p.GetActive(),
		Formulation:    word[rules.FormulationKind](r, at("formulation"), p.GetFormulation()),
		SoilActivity:   word[rules.SoilActivity](r, at("soil_activity"), p.GetSoilActivity()),
		AquaticLabel:   word[rules.AquaticLabel](r, at("aquatic_label"), p.GetAquaticLabel()),
		RestrictedUse:  word[rules.RestrictedUse](r, at("restricted_use"), p.GetRestrictedUse()),
		Toxicity:       word[rules.ToxicityCategory](r, at("toxicity"), p.GetToxicity()),
		Droplet:        word[rules.Droplet](r, at("droplet"), p.GetDroplet()),
		ReleaseHeight:  quantity.Micrometres(p.GetReleaseHeightUm()),
		LandUse:        word[rules.LandUse](r, at("land_use"), p.GetLandUse()),
		Standing:       word[rules.Standing](r, at("standing"), p.GetStanding()),
		NoHerbicide:    p.GetNoHerbicide(),
		DriftControl:   word[rules.DriftControl](r, at("drift_control"), p.GetDriftControl()),
		Categories:     set[rules.CertificationCategory](r, at("categories"), p.GetCategories()),
		CarrierMlPerHa: p.GetCarrierMlPerHa(),
		DosePermille:   p.GetDosePermille(),
		Granted:        some(p.GetGranted()),
	}
}

func (r *reader) notBelowZero(field string, v int64) {
	if v < 0 {
		r.add(field, "%d is below zero", v)
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
		Places:    r.places(at("places"), p.GetPlaces()),
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
		r.notBelowZero(at+".distance_um", p.GetDistanceUm())
		w.Set(c, rules.WaterDistance{
			Distance: quantity.Micrometres(p.GetDistanceUm()),
			Origin:   word[rules.DistanceOrigin](r, at+".origin", p.GetOrigin()),
			AtLeast:  p.GetAtLeast(),
			State:    word[rules.WaterState](r, at+".state", p.GetState()),
		})
	}
	return w
}

func (r *reader) places(path string, list []*pb.MeasuredPlace) rules.Places {
	var places rules.Places
	for i, p := range list {
		at := fmt.Sprintf("%s[%d]", path, i)
		c := stated[rules.PlaceClass](r, at+".place_class", p.GetPlaceClass())
		if c == 0 {
			continue
		}
		if _, twice := places.Get(c); twice {
			r.add(at, "the distance to %s is stated twice", c)
		}
		r.notBelowZero(at+".distance_um", p.GetDistanceUm())
		places.Set(c, rules.PlaceDistance{Distance: quantity.Micrometres(p.GetDistanceUm()), AtLeast: p.GetAtLeast()})
	}
	return places
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
