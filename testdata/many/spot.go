package many

import commonv1 "example.org/rootward/proto/gen/rootward/common/v1"

// perSpot is how many rows a crew takes at one spot: neighbours are alike, as they
// are in the field.
const perSpot = 1_000

// spot is what the rows taken at one spot share.
type spot struct {
	number    int64 // from 1
	site      *site
	siteID    string
	species   int64 // of each list, the one that prevails
	desirable commonv1.Desirable
	soil      commonv1.SoilState
	bark      commonv1.BarkState
	slope     int64 // percent, at least

	latitude, longitude int64 // millionths of a degree
	water               nearby
	feet                int64 // to that water, at least
}

// nearby is the water that a spot is near to.
type nearby int64

const (
	unmeasured nearby = iota // to be computed from positions
	byStream
	byWetland
	byWell
	betweenStreamAndWell
	dry // and at all the rest of ten
)

// newSpot draws the spot with an index from 0. Its dice are those of a row that
// no inventory has.
func newSpot(seed uint64, index int64) spot {
	d := diceFor(seed, -1-index)
	s := spot{
		number: index + 1, species: d.below(6), desirable: commonv1.Desirable_DESIRABLE_NONE,
		soil: commonv1.SoilState_SOIL_STATE_MOIST, bark: commonv1.BarkState_BARK_STATE_DRY,
		slope: d.below(30), water: nearby(d.below(10)), feet: d.between(1, 150),
	}
	s.site, s.siteID = siteOf(index * perSpot / perSite)
	s.latitude, s.longitude = s.site.latitude+d.between(-3_000, 3_000), s.site.longitude+d.between(-4_000, 4_000)
	switch d.below(12) {
	case 0, 1:
		s.desirable = commonv1.Desirable_DESIRABLE_SPRAY_REACH
	case 2:
		s.desirable = commonv1.Desirable_DESIRABLE_ROOT_REACH
	case 3:
		s.bark, s.soil = commonv1.BarkState_BARK_STATE_WET, commonv1.SoilState_SOIL_STATE_WET
	case 4:
		s.bark = commonv1.BarkState_BARK_STATE_UNSPECIFIED
	}
	return s
}

// speciesOf is the one that prevails, or now and then its neighbour on the list.
func (s *spot) speciesOf(list []string, d *dice) string {
	if d.oneIn(8) {
		return list[(s.species+1)%int64(len(list))]
	}
	return list[s.species]
}

// locate gives the row a position, and the distances to water that the survey of
// the spot states.
func (s *spot) locate(r *row, d *dice) {
	r.latitude, r.longitude = s.latitude+d.between(-400, 400), s.longitude+d.between(-500, 500)
	r.uncertainty = d.between(2, 6)
	r.stream, r.wetland, r.well, r.beyond = absent, absent, absent, absent
	if s.water == unmeasured {
		return
	}
	r.beyond = 500
	feet := s.feet + d.below(60)
	switch s.water {
	case byStream:
		r.stream, r.streamFrom = feet, s.origin(d)
	case byWetland:
		r.wetland, r.wetlandFrom = feet, commonv1.DistanceOrigin_DISTANCE_ORIGIN_WETLAND_BOUNDARY
	case byWell:
		r.well, r.wellFrom = feet, waterEdge
	case betweenStreamAndWell:
		r.stream, r.streamFrom, r.well, r.wellFrom = feet, s.origin(d), 260-feet, waterEdge
	}
}

// origin is where the law of the site counts from; for one stem in 50 it was not
// noted from where was measured.
func (s *spot) origin(d *dice) commonv1.DistanceOrigin {
	if d.oneIn(50) {
		return 0
	}
	return s.site.origin
}
