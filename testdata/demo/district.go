package demo

// The sites under a watershed district.

// streamFeet lie about the distances that water rules often name.
var streamFeet = []string{"5", "9", "10", "11", "24", "25", "26", "49", "50", "51", "59", "60", "61", "99", "100", "101", "150", "300"}

// byStream puts a row near a stream. Seven origins on eighteen distances: most
// distances are met with more than one origin.
func byStream() map[string][]string {
	return map[string][]string{
		"distance_perennial_stream_ft":   streamFeet,
		"distance_perennial_stream_from": {"water_edge", "bank_top", "water_edge", "bank_top", "water_edge", "wetland_boundary", "bank_top"},
	}
}

var osselBank = []group{
	{"ossel-bank", 22, "sapling", []string{russianOlive, whitePoplar, treeOfHeaven, locust}, span{10, 60}, span{}, byStream(),
		"sapling by the stream"},
	{"ossel-bank", 20, "tree", []string{treeOfHeaven, whitePoplar, russianOlive}, span{61, 180}, span{}, byStream(),
		"tree by the stream"},
	{"ossel-bank", 18, "root_sucker", poplar, span{2, 9}, span{2, 10}, byStream(),
		"sucker by the stream"},
	{"ossel-bank", 3, "sapling", ailanthus, span{10, 50}, span{}, map[string][]string{"distance_perennial_stream_ft": always("45")},
		"distance to the stream known, but not from where it was measured"},
}

// byWetland puts a row near the boundary of a wetland.
func byWetland() map[string][]string {
	return map[string][]string{
		"distance_wetland_ft":            {"10", "25", "50", "100", "200"},
		"distance_perennial_stream_ft":   always("220"),
		"distance_perennial_stream_from": always("water_edge"),
	}
}

var shrubs = []string{honeysuckle, chinesePrivet, buckthorn}

var heronBend = []group{
	{"heron-bend", 26, "sapling", shrubs, span{5, 35}, span{6, 14}, byWetland(),
		"shrub that only sprouts from its stump, near a wetland"},
	{"heron-bend", 9, "stump", shrubs, span{10, 40}, span{1, 1}, nil,
		"fresh stump of a species that only sprouts from the stump"},
	{"heron-bend", 6, "stump_sprout", shrubs, span{2, 8}, span{3, 8}, nil,
		"sprouts within reach of the sprayer"},
	{"heron-bend", 4, "seedling", []string{buckthorn, honeysuckle}, span{1, 3}, span{1, 2}, map[string][]string{"root_check": always("taproot")},
		"seedling with a taproot in moist soil: can be pulled"},
	{"heron-bend", 4, "sapling", shrubs, span{10, 30}, span{6, 12}, map[string][]string{"desirable_vegetation": always("spray_reach")},
		"shrub among plants that spray would reach"},
	{"heron-bend", 1, "sapling", shrubs, span{20, 20}, span{9, 9}, map[string][]string{"occurrenceID": always("")},
		"fault: no occurrenceID"},
}

// wellFeet lie about a well's usual distances.
var wellFeet = []string{"49", "50", "98", "99", "100", "101", "150"}

var chapelSlope = []group{
	{"chapel-slope", 8, "tree", []string{pear}, span{61, 160}, span{}, map[string][]string{"seed_bearing": always("yes"), "distance_well_ft": wellFeet},
		"fruiting tree in a park, near a well"},
	{"chapel-slope", 8, "sapling", []string{pear}, span{10, 60}, span{}, nil,
		"sapling in a park"},
	{"chapel-slope", 5, "stump", []string{pear}, span{40, 150}, span{1, 1}, nil,
		"fresh stump of a species that only sprouts from the stump"},
	{"chapel-slope", 5, "stump_sprout", []string{pear}, span{3, 10}, span{3, 10}, nil,
		"sprouts within reach of the sprayer"},
	{"chapel-slope", 4, "sapling", []string{princessTree}, span{15, 60}, span{}, nil,
		"sapling in a park"},
	{"chapel-slope", 5, "sapling", ailanthus, span{10, 60}, span{}, map[string][]string{"land_use": always("residential"), "desirable_vegetation": always("root_reach")},
		"sapling in a garden, among the roots of plants that must live"},
	{"chapel-slope", 1, "sapling", []string{pear}, span{30, 30}, span{}, map[string][]string{"form": always("bush")},
		"fault: a form that is no word of the list"},
}

var alderFord = []group{
	{"alder-ford", 14, "sapling", []string{autumnOlive}, span{5, 30}, span{6, 14}, map[string][]string{"seed_bearing": {"yes", "no"}},
		"shrub on grazed pasture"},
	{"alder-ford", 4, "seedling", []string{autumnOlive}, span{1, 4}, span{1, 2}, map[string][]string{"root_check": always("taproot")},
		"seedling with a taproot in moist soil: can be pulled"},
	{"alder-ford", 4, "stump_sprout", []string{princessTree}, span{4, 12}, span{4, 9}, nil,
		"sprouts within reach of the sprayer"},
	{"alder-ford", 6, "tree", ailanthus, span{61, 200}, span{}, map[string][]string{"seed_bearing": {"yes", "no"}},
		"tree on grazed pasture"},
	{"alder-ford", 4, "sapling", robinia, span{10, 60}, span{}, map[string][]string{"land_use": always("rangeland"), "slope_percent": {"45", "60"}},
		"sapling on steep rangeland"},
	{"alder-ford", 3, "root_sucker", ailanthus, span{3, 8}, span{3, 9},
		patch([]string{"0.20", "0.35", "0.10"}, []string{"1900", "2600", "7000"}, []string{"", "10", ""}, []string{"", "3.5", ""}),
		"dense patch of suckers on grazed pasture"},
	{"alder-ford", 6, "sapling", []string{autumnOlive, treeOfHeaven}, span{10, 40}, span{}, byTheMap(saplingsByTheMap),
		"nobody measured the distance to water; the position and the map of the creek tell it, but for one whose position may be anywhere"},
	{"alder-ford", 4, "root_sucker", ailanthus, span{2, 9}, span{2, 9}, byTheMap(suckersByTheMap),
		"nobody measured the distance to water; the position and the map of the creek tell it, but for one that is off the map"},
	{"alder-ford", 1, "sapling", ailanthus, span{25, 25}, span{}, map[string][]string{"decimalLatitude": always("-37.974000"), "decimalLongitude": always("42.999000")},
		"fault: latitude and longitude are swapped"},
	{"alder-ford", 1, "sapling", ailanthus, span{25, 25}, span{}, map[string][]string{"decimalLatitude": always("142.999000")},
		"fault: a latitude beyond the pole"},
}

var fenLanding = []group{
	{"fen-landing", 4, "sapling", ailanthus, span{10, 60}, span{}, nil,
		"in a district without a rule set"},
	{"fen-landing", 4, "tree", robinia, span{62, 120}, span{}, nil,
		"in a district without a rule set"},
}
