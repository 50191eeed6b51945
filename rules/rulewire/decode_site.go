package rulewire

import (
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

func (r *reader) treatment(p *pb.Treatment) rules.Treatment {
	r.notBelowZero("release_height_um", p.GetReleaseHeightUm())
	r.notBelowZero("carrier_ml_per_ha", p.GetCarrierMlPerHa())
	r.notBelowZero("dose_permille", p.GetDosePermille())
	return rules.Treatment{
		Species:        p.GetSpecies(),
		Suckering:      word[rules.Suckering](r, "suckering", p.GetSuckering()),
		Method:         word[rules.Method](r, "method", p.GetMethod()),
		Equipment:      word[rules.Equipment](r, "equipment", p.GetEquipment()),
		Active:         p.GetActive(),
		Formulation:    word[rules.FormulationKind](r, "formulation", p.GetFormulation()),
		SoilActivity:   word[rules.SoilActivity](r, "soil_activity", p.GetSoilActivity()),
		AquaticLabel:   word[rules.AquaticLabel](r, "aquatic_label", p.GetAquaticLabel()),
		RestrictedUse:  word[rules.RestrictedUse](r, "restricted_use", p.GetRestrictedUse()),
		Toxicity:       word[rules.ToxicityCategory](r, "toxicity", p.GetToxicity()),
		Droplet:        word[rules.Droplet](r, "droplet", p.GetDroplet()),
		ReleaseHeight:  quantity.Micrometres(p.GetReleaseHeightUm()),
		LandUse:        word[rules.LandUse](r, "land_use", p.GetLandUse()),
		Standing:       word[rules.Standing](r, "standing", p.GetStanding()),
		NoHerbicide:    p.GetNoHerbicide(),
		DriftControl:   word[rules.DriftControl](r, "drift_control", p.GetDriftControl()),
		Categories:     set[rules.CertificationCategory](r, "categories", p.GetCategories()),
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

func (r *reader) surroundings(p *pb.Surroundings) rules.Surroundings {
	return rules.Surroundings{
		Form:      word[rules.GrowthForm](r, "form", p.GetForm()),
		Soil:      word[rules.SoilState](r, "soil", p.GetSoil()),
		Bark:      word[rules.BarkState](r, "bark", p.GetBark()),
		Desirable: word[rules.Desirable](r, "desirable", p.GetDesirable()),
		Measures:  r.measures(p.GetMeasures()),
		Water:     r.waters(p.GetWater()),
		Places:    r.places(p.GetPlaces()),
	}
}

func (r *reader) measures(list []*pb.Measured) rules.Measures {
	var m rules.Measures
	for i, p := range list {
		r.enter("measures", i)
		r.measure(&m, p)
		r.leave()
	}
	return m
}

func (r *reader) measure(m *rules.Measures, p *pb.Measured) {
	q := stated[rules.Measure](r, "measure", p.GetMeasure())
	if q == 0 {
		return
	}
	if _, twice := m.Get(q); twice {
		r.add("", "%s is stated twice", q)
	}
	m.Set(q, p.GetValue())
}

func (r *reader) waters(list []*pb.MeasuredWater) rules.Waters {
	var w rules.Waters
	for i, p := range list {
		r.enter("water", i)
		r.water(&w, p)
		r.leave()
	}
	return w
}

func (r *reader) water(w *rules.Waters, p *pb.MeasuredWater) {
	c := stated[rules.WaterClass](r, "water_class", p.GetWaterClass())
	if c == 0 {
		return
	}
	if _, twice := w.Get(c); twice {
		r.add("", "the distance to %s is stated twice", c)
	}
	r.notBelowZero("distance_um", p.GetDistanceUm())
	w.Set(c, rules.WaterDistance{
		Distance: quantity.Micrometres(p.GetDistanceUm()),
		Origin:   word[rules.DistanceOrigin](r, "origin", p.GetOrigin()),
		AtLeast:  p.GetAtLeast(),
		State:    word[rules.WaterState](r, "state", p.GetState()),
	})
}

func (r *reader) places(list []*pb.MeasuredPlace) rules.Places {
	var places rules.Places
	for i, p := range list {
		r.enter("places", i)
		r.place(&places, p)
		r.leave()
	}
	return places
}

func (r *reader) place(places *rules.Places, p *pb.MeasuredPlace) {
	c := stated[rules.PlaceClass](r, "place_class", p.GetPlaceClass())
	if c == 0 {
		return
	}
	if _, twice := places.Get(c); twice {
		r.add("", "the distance to %s is stated twice", c)
	}
	r.notBelowZero("distance_um", p.GetDistanceUm())
	places.Set(c, rules.PlaceDistance{Distance: quantity.Micrometres(p.GetDistanceUm()), AtLeast: p.GetAtLeast()})
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
