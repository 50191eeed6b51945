package rules

// For gives the facts of a site that a computed row needs, and those of them that are
// not known. A row is told no others, so that its answer holds for every site that
// shares these.
func (s *SiteFacts) For(needs OneOf[SiteFact]) (told SiteFacts, missing OneOf[SiteFact]) {
	if needs.Has(FactPosition) {
		told.HasPosition, told.Latitude, told.Longitude = s.HasPosition, s.Latitude, s.Longitude
		missing |= unless(s.HasPosition, FactPosition)
	}
	if needs.Has(FactElevation) {
		told.HasElevation, told.Elevation = s.HasElevation, s.Elevation
		missing |= unless(s.HasElevation, FactElevation)
	}
	if needs.Has(FactTemperatures) {
		told.Temperatures = s.Temperatures
		missing |= unless(s.Temperatures != nil, FactTemperatures)
	}
	return told, missing
}

func unless(known bool, fact SiteFact) OneOf[SiteFact] {
	if known {
		return 0
	}
	return AnyOf(fact)
}
