package demo

// The sites under the state alone.

var ailanthus = []string{treeOfHeaven}

var millMeadow = []group{
	{"mill-meadow", 26, "tree", ailanthus, span{61, 240}, span{}, nil,
		"tree above 6 in"},
	{"mill-meadow", 24, "sapling", ailanthus, span{5, 59}, span{}, nil,
		"sapling under 6 in"},
	{"mill-meadow", 3, "sapling", ailanthus, span{60, 60}, span{}, nil,
		"exactly 6 in: the largest stem for basal bark"},
	{"mill-meadow", 2, "tree", ailanthus, span{61, 61}, span{}, nil,
		"just above 6 in"},
	{"mill-meadow", 1, "tree", ailanthus, span{80, 80}, span{}, map[string][]string{"scientificName": always("Arbor ignota")},
		"fault: a species nobody knows"},
	{"mill-meadow", 18, "root_sucker", ailanthus, span{2, 9}, span{2, 10}, nil,
		"sucker within reach of the sprayer, nothing to spare around it"},
	{"mill-meadow", 6, "root_sucker", ailanthus, span{2, 9}, span{2, 10}, map[string][]string{"desirable_vegetation": always("spray_reach")},
		"sucker among plants that spray would reach"},
	{"mill-meadow", 6, "root_sucker", ailanthus, span{2, 9}, span{2, 10}, map[string][]string{"desirable_vegetation": always("root_reach")},
		"sucker among the roots of plants that must live"},
	{"mill-meadow", 8, "stump_sprout", ailanthus, span{3, 12}, span{3, 9}, nil,
		"sprouts from a stump that somebody cut"},
	{"mill-meadow", 6, "stump", ailanthus, span{60, 200}, span{1, 1}, nil,
		"stump of a root-suckerer: treating the stump alone leaves the roots alive"},
	{"mill-meadow", 6, "root_sucker", ailanthus, span{3, 8}, span{3, 9},
		patch([]string{"0.10", "0.25", "0.06", "0.40", "0.15", "0.05"},
			[]string{"1500", "1999", "2000", "3500", "6000", "8000"},
			[]string{"", "12", "", "30", "", "5"},
			[]string{"", "2.5", "", "5.0", "", "8.0"}),
		"dense patch of suckers, some with larger stems among them"},
}

// millMeadowDoubts are rows on which the day or the survey decides.
var millMeadowDoubts = []group{
	{"mill-meadow", 10, "seedling", ailanthus, span{1, 5}, span{1, 3}, map[string][]string{"root_check": always("taproot")},
		"seedling with a taproot in moist soil: can be pulled"},
	{"mill-meadow", 6, "seedling", ailanthus, span{1, 5}, span{1, 3}, map[string][]string{"root_check": always("not_checked")},
		"may be a sucker: nobody looked at the root"},
	{"mill-meadow", 4, "seedling", ailanthus, span{1, 5}, span{1, 3}, map[string][]string{"root_check": always("lateral_root")},
		"called a seedling, but it hangs on a lateral root"},
	{"mill-meadow", 4, "seedling", ailanthus, span{1, 5}, span{1, 3}, map[string][]string{"root_check": always("taproot"), "soil_state": always("dry")},
		"seedling in dry soil: the root would break"},
	{"mill-meadow", 2, "seedling", ailanthus, span{1, 5}, span{1, 3}, map[string][]string{"root_check": always("taproot"), "soil_state": always("frozen"), "bark_state": always("frozen")},
		"seedling in frozen soil"},
	{"mill-meadow", 8, "sapling", ailanthus, span{10, 60}, span{}, map[string][]string{"bark_state": always("wet"), "soil_state": always("wet")},
		"wet bark"},
	{"mill-meadow", 6, "sapling", ailanthus, span{10, 60}, span{}, map[string][]string{"bark_state": always("frozen"), "soil_state": always("frozen")},
		"frozen bark, small stem"},
	{"mill-meadow", 4, "tree", ailanthus, span{62, 140}, span{}, map[string][]string{"bark_state": always("frozen"), "soil_state": always("frozen")},
		"frozen bark, large stem"},
	{"mill-meadow", 3, "sapling", ailanthus, span{10, 60}, span{}, map[string][]string{"bark_state": always("")},
		"nobody noted the bark"},
	{"mill-meadow", 3, "root_sucker", ailanthus, span{2, 9}, span{2, 9}, map[string][]string{"desirable_vegetation": always("")},
		"nobody noted what grows around it"},
	{"mill-meadow", 1, "sapling", ailanthus, span{30, 30}, span{}, map[string][]string{"dbh_in": always("abc")},
		"fault: a diameter that is no number"},
}

var robinia = []string{locust}

var quarryRim = []group{
	{"quarry-rim", 18, "tree", robinia, span{61, 180}, span{}, nil,
		"tree above 6 in"},
	{"quarry-rim", 14, "sapling", robinia, span{10, 60}, span{}, nil,
		"sapling up to 6 in"},
	{"quarry-rim", 5, "stump", robinia, span{50, 160}, span{1, 1}, nil,
		"stump of a root-suckerer: treating the stump alone leaves the roots alive"},
	{"quarry-rim", 8, "stump_sprout", robinia, span{3, 12}, span{3, 10}, nil,
		"sprouts within reach of the sprayer"},
	{"quarry-rim", 4, "stump_sprout", robinia, span{10, 20}, span{11, 16}, nil,
		"sprouts above the reach of the sprayer"},
	{"quarry-rim", 6, "root_sucker", robinia, span{3, 9}, span{4, 10},
		patch([]string{"0.20", "0.60", "0.10", "0.30", "0.05", "0.50"},
			[]string{"1800", "2200", "4000", "5200", "7500", "3000"},
			[]string{"", "40", "", "", "8", "25"},
			[]string{"", "3.0", "", "", "6.5", "4.5"}),
		"dense patch of suckers, some with larger stems among them"},
	{"quarry-rim", 3, "seedling", robinia, span{1, 4}, span{1, 2}, map[string][]string{"root_check": always("taproot")},
		"seedling with a taproot in moist soil: can be pulled"},
	{"quarry-rim", 6, "tree", []string{princessTree}, span{80, 200}, span{}, nil,
		"tree above 6 in"},
	{"quarry-rim", 1, "tree", robinia, span{90, 90}, span{}, map[string][]string{"dbh_in": always("-9.0")},
		"fault: a negative diameter"},
	{"quarry-rim", 1, "tree", robinia, span{70, 70}, span{}, map[string][]string{"girth_in": always("22.0")},
		"fault: both diameter and girth are given"},
}

var poplar = []string{whitePoplar}

var northSiding = []group{
	{"north-siding", 12, "tree", poplar, span{62, 240}, span{}, nil,
		"tree above 6 in on a right of way"},
	{"north-siding", 8, "sapling", poplar, span{5, 60}, span{}, nil,
		"sapling on a right of way"},
	{"north-siding", 8, "root_sucker", poplar, span{2, 9}, span{2, 10}, nil,
		"sucker within reach of the sprayer, nothing to spare around it"},
	{"north-siding", 6, "root_sucker", poplar, span{2, 9}, span{2, 10}, map[string][]string{"desirable_vegetation": always("spray_reach")},
		"sucker among plants that spray would reach"},
	{"north-siding", 6, "root_sucker", poplar, span{2, 9}, span{2, 10}, map[string][]string{"desirable_vegetation": always("root_reach")},
		"sucker among the roots of plants that must live"},
	{"north-siding", 4, "stump", poplar, span{60, 180}, span{1, 1}, nil,
		"stump of a root-suckerer: treating the stump alone leaves the roots alive"},
	{"north-siding", 4, "root_sucker", poplar, span{3, 9}, span{3, 10},
		patch([]string{"0.15", "0.30", "0.08", "0.20"},
			[]string{"1600", "2500", "8000", "4800"},
			[]string{"", "18", "", "6"},
			[]string{"", "4.0", "", "9.0"}),
		"dense patch of suckers, some with larger stems among them"},
	{"north-siding", 1, "tree", poplar, span{100, 100}, span{}, map[string][]string{"height_ft": always("900")},
		"fault: a height that no tree reaches"},
}

// tooDense are two sites that pass the yearly maximum of acid equivalent to the
// acre: one by basal bark, one by cuts. The second is a planted double row, as
// no wood holds so many large stems on so little ground.
var tooDense = []group{
	{"ferry-lane", 30, "sapling", ailanthus, span{40, 60}, span{}, map[string][]string{"individualCount": always("10")},
		"thicket of large saplings on little ground: the yearly maximum to the acre is near"},
	{"wind-row", 45, "tree", poplar, span{65, 120}, span{}, map[string][]string{"individualCount": always("3")},
		"old double row planted close on a strip of 0.05 ac: the yearly maximum to the acre is near"},
}
