package demo

// group is a run of rows of one kind on one site.
type group struct {
	site     string
	n        int
	form     string
	species  []string // taken in turn
	diameter span     // tenths of an inch, at breast height or at the root collar as the form has it
	height   span     // feet; none: follows from the diameter
	// columns are given these values in turn, over what the form and site imply;
	// a blank value leaves the column empty.
	columns map[string][]string
	remark  string
}

// span is a range, both ends included.
type span struct{ from, to int }

// always is one value on every row.
func always(v string) []string { return []string{v} }

const (
	treeOfHeaven  = "Ailanthus altissima"
	locust        = "Robinia pseudoacacia"
	whitePoplar   = "Populus alba"
	autumnOlive   = "Elaeagnus umbellata"
	russianOlive  = "Elaeagnus angustifolia"
	princessTree  = "Paulownia tomentosa"
	pear          = "Pyrus calleryana"
	buckthorn     = "Rhamnus cathartica"
	honeysuckle   = "Lonicera maackii"
	chinesePrivet = "Ligustrum sinense"
)

// patch are the columns of a stand that nobody counted stem by stem.
func patch(areaAc, perAc, largerCount, largerDBH []string) map[string][]string {
	return map[string][]string{
		"individualCount":     always(""),
		"infested_area_ac":    areaAc,
		"stem_density_per_ac": perAc,
		"larger_count":        largerCount,
		"larger_dbh_in":       largerDBH,
	}
}

func groups() []group {
	var all []group
	for _, some := range [][]group{
		millMeadow, millMeadowDoubts, quarryRim, northSiding, tooDense,
		osselBank, heronBend, chapelSlope, alderFord, fenLanding,
	} {
		all = append(all, some...)
	}
	return all
}
